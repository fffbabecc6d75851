-- What an owner's server keeps of those who forward. Stands beside the journal: may change.
create table fork (
  site text collate "C" not null,
  of_site text collate "C" not null,                   -- site whose journal went on differently
  first_us bigint not null,                            -- unix microseconds when it was seen first
  last_us bigint not null,                             -- unix microseconds when it was seen last
  station text collate "C" not null,                   -- station that brought it
  here_size bigint not null,                           -- how far the journal here reached when it was seen first
  here_root bytea not null check (length(here_root) = 32),
  claimed_epoch bytea not null check (length(claimed_epoch) = 16),
  claimed_size bigint not null,
  claimed_root bytea not null check (length(claimed_root) = 32),
  settled_us bigint,                                   -- unix microseconds when it was over; null while it stands
  primary key (site, of_site, first_us, claimed_epoch, claimed_size, claimed_root)
);

-- Whose journal a station brings; what was said first stays.
create table station_site (
  site text collate "C" not null,
  station_id text collate "C" not null,
  of_site text collate "C" not null,
  primary key (site, station_id),
  foreign key (site, station_id) references station (site, id)
);
