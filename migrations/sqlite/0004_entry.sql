-- The journal. Only inserted into; every column except bytes and received_us is repeated in an index,
-- so that an integrity check notices a change in it, and those two are covered by leaf_hash.
create table entry (
  seq integer primary key,                             -- place in the journal, from 1, no gaps; leaf index + 1
  entry_id blob not null,                              -- 16 bytes, made by the station
  job_first_seq integer,                               -- job.first_seq; null for a site entry
  stream_first_seq integer not null,                   -- station_stream.first_seq
  station_number integer not null,                     -- ascending within the stream
  received_us integer not null,                        -- server's clock, unix microseconds
  bytes blob not null,                                 -- the sealed entry, exactly as the station made it
  leaf_hash blob not null                              -- 32 bytes, RFC 6962 leaf hash
) strict;

create unique index entry_by_id on entry (entry_id);
create index entry_by_job on entry (job_first_seq) where job_first_seq is not null;
create index entry_of_site on entry (seq) where job_first_seq is null;
create index entry_by_station on entry (stream_first_seq, station_number);

create trigger entry_never_updated before update on entry
begin
  select raise(abort, 'an entry never changes');
end;

create trigger entry_never_deleted before delete on entry
begin
  select raise(abort, 'an entry is never deleted');
end;

pragma user_version = 4;
