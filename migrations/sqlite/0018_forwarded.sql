-- What an owner's server keeps of those who forward. Stands beside the journal: may change.
create table fork (
  of_site text not null,                               -- site whose journal went on differently
  first_us integer not null,                           -- unix microseconds when it was seen first
  last_us integer not null,                            -- unix microseconds when it was seen last
  station text not null,                               -- station that brought it
  here_size integer not null,                          -- how far the journal here reached when it was seen first
  here_root blob not null check (length(here_root) = 32),
  claimed_epoch blob not null check (length(claimed_epoch) = 16),
  claimed_size integer not null,
  claimed_root blob not null check (length(claimed_root) = 32),
  settled_us integer,                                  -- unix microseconds when it was over; null while it stands
  primary key (of_site, first_us, claimed_epoch, claimed_size, claimed_root)
) strict, without rowid;

-- Whose journal a station brings; what was said first stays.
create table station_site (
  station_id text primary key references station (id),
  of_site text not null
) strict, without rowid;

pragma user_version = 18;
