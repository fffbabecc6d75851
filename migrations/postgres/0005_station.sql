-- Enrolled stations and their tokens. Stands beside the journal: may change.
create table station (
  site text collate "C" not null,
  id text collate "C" not null,
  name text not null,
  role text not null,                                  -- word of the access table; not interpreted here
  created_us bigint not null,                          -- unix microseconds
  revoked_us bigint,                                   -- unix microseconds; null while the station may speak
  primary key (site, id)
);

create table token (
  site text collate "C" not null,
  token_sha256 bytea not null check (length(token_sha256) = 32),
  station_id text collate "C" not null,
  created_us bigint not null,                          -- unix microseconds
  primary key (site, token_sha256),
  foreign key (site, station_id) references station (site, id)
);

create index token_by_station on token (site, station_id);
