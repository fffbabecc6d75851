-- What the job list shows and searches: computed from the journal, may be dropped and computed again.
create table job_summary (
  site text collate "C" not null,
  year bigint not null,                                -- with ordinal: the job's number
  ordinal bigint not null,
  job_id bytea not null check (length(job_id) = 16),
  plate text not null,
  vin text not null,
  title text not null,
  closed bigint not null check (closed in (0, 1)),
  state text not null,
  seq bigint not null,                                 -- last entry of the job when this was computed
  updated_us bigint not null,                          -- unix microseconds
  number_key text not null,                            -- the four *_key columns are folded for searching
  plate_key text collate "C" not null,
  vin_key text collate "C" not null,
  title_key text not null,
  primary key (site, year, ordinal)
);

create index job_summary_open on job_summary (site, year, ordinal) where closed = 0;
