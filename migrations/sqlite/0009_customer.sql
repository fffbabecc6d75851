-- Who a job is for. Stands beside the journal and can be erased.
create table customer (
  job_id blob primary key check (length(job_id) = 16),
  name text,                                           -- null after erasure
  telephone text,                                      -- null after erasure; empty if not noted
  updated_us integer not null,                         -- unix microseconds of the latest writing
  erased_us integer,                                   -- unix microseconds; null while the customer is kept
  name_key text,                                       -- the two *_key columns are folded for searching
  telephone_key text
) strict, without rowid;

pragma user_version = 9;
