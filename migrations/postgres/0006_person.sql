-- Names of persons, by the code their entries carry. Stands beside the journal: may be erased.
create table person (
  site text collate "C" not null,
  code text collate "C" not null,
  name text,                                           -- null after erasure
  listed_us bigint not null,                           -- unix microseconds
  erased_us bigint,                                    -- unix microseconds; null while the name is kept
  primary key (site, code)
);
