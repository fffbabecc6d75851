-- A job is born by one entry and its identity never changes; what it is now is computed from its entries.
create table job (
  site text collate "C" not null,
  first_seq bigint not null,                           -- sequence of the entry that opened the job
  job_id bytea not null check (length(job_id) = 16),
  year bigint not null,                                -- local calendar year the job was opened in
  ordinal bigint not null check (ordinal >= 1),        -- printed number within the year, from 1, no gaps
  primary key (site, first_seq),
  constraint job_by_id unique (site, job_id),
  constraint job_by_number unique (site, year, ordinal)
);

create trigger job_never_updated before update on job for each row
execute function refuse('the identity of a job never changes');

create trigger job_never_deleted before delete on job for each row
execute function refuse('a job is never deleted');

create trigger job_never_emptied before truncate on job for each statement
execute function refuse('a job is never deleted');
