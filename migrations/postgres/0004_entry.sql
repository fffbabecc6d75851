-- The journal. Only inserted into; place, time and bytes are covered by leaf_hash. The parts keep the sites' indexes small.
create table entry (
  site text collate "C" not null,
  seq bigint not null,                                 -- place in the journal, from 1, no gaps; leaf index + 1
  entry_id bytea not null check (length(entry_id) = 16), -- made by the station
  job_first_seq bigint,                                -- job.first_seq; null for a site entry
  stream_first_seq bigint not null,                    -- station_stream.first_seq
  station_number bigint not null,                      -- ascending within the stream
  received_us bigint not null,                         -- server's clock, unix microseconds
  bytes bytea not null,                                -- the sealed entry, exactly as the station made it
  leaf_hash bytea not null check (length(leaf_hash) = 32), -- RFC 6962 leaf hash
  primary key (site, seq)
) partition by hash (site);

create unique index entry_by_id on entry (site, entry_id);
create index entry_by_job on entry (site, job_first_seq, seq) where job_first_seq is not null;
create index entry_of_site on entry (site, seq) where job_first_seq is null;
create index entry_by_station on entry (site, stream_first_seq, station_number);

create trigger entry_never_updated before update on entry for each row
execute function refuse('an entry never changes');

create trigger entry_never_deleted before delete on entry for each row
execute function refuse('an entry is never deleted');

create trigger entry_never_emptied before truncate on entry for each statement
execute function refuse('an entry is never deleted');

-- The parts take over keys, indexes and the triggers of rows; that of emptying each needs for itself.
do $$
begin
  for part in 0..15 loop
    execute format('create table entry_%s partition of entry for values with (modulus 16, remainder %s)', part, part);
    execute format('create trigger entry_never_emptied before truncate on entry_%s for each statement '
      'execute function refuse(''an entry is never deleted'')', part);
  end loop;
end
$$;
