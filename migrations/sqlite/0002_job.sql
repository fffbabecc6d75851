-- A job is born by one entry and its identity never changes; what it is now is computed from its entries.
create table job (
  first_seq integer primary key,                       -- sequence of the entry that opened the job
  job_id blob not null unique check (length(job_id) = 16),
  year integer not null,                               -- local calendar year the job was opened in
  ordinal integer not null check (ordinal >= 1),       -- printed number within the year, from 1, no gaps
  unique (year, ordinal)
) strict;

create trigger job_never_updated before update on job
begin
  select raise(abort, 'the identity of a job never changes');
end;

create trigger job_never_deleted before delete on job
begin
  select raise(abort, 'a job is never deleted');
end;

pragma user_version = 2;
