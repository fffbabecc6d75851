-- Who a job is for. Stands beside the journal and can be erased.
create table customer (
  site text collate "C" not null,
  job_id bytea not null check (length(job_id) = 16),
  name text,                                           -- null after erasure
  telephone text,                                      -- null after erasure; empty if not noted
  updated_us bigint not null,                          -- unix microseconds of the latest writing
  erased_us bigint,                                    -- unix microseconds; null while the customer is kept
  name_key text,                                       -- the two *_key columns are folded for searching
  telephone_key text,
  primary key (site, job_id)
);
