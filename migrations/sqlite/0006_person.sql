-- Names of persons, by the code their entries carry. Stands beside the journal: may be erased.
create table person (
  code text primary key,
  name text,                                           -- null after erasure
  listed_us integer not null,                          -- unix microseconds
  erased_us integer                                    -- unix microseconds; null while the name is kept
) strict, without rowid;

pragma user_version = 6;
