-- What the job list shows and searches: computed from the journal, may be dropped and computed again.
create table job_summary (
  year integer not null,                               -- with ordinal: the job's number
  ordinal integer not null,
  job_id blob not null check (length(job_id) = 16),
  plate text not null,
  vin text not null,
  title text not null,
  closed integer not null check (closed in (0, 1)),
  state text not null,
  seq integer not null,                                -- last entry of the job when this was computed
  updated_us integer not null,                         -- unix microseconds
  number_key text not null,                            -- the four *_key columns are folded for searching
  plate_key text not null,
  vin_key text not null,
  title_key text not null,
  primary key (year, ordinal)
) strict, without rowid;

create index job_summary_open on job_summary (year, ordinal) where closed = 0;

pragma user_version = 7;
