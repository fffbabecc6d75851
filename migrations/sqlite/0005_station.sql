-- Enrolled stations and their tokens. Stands beside the journal: may change.
create table station (
  id text primary key,
  name text not null,
  role text not null,                                  -- word of the access table; not interpreted here
  created_us integer not null,                         -- unix microseconds
  revoked_us integer                                   -- unix microseconds; null while the station may speak
) strict, without rowid;

create table token (
  token_sha256 blob primary key check (length(token_sha256) = 32),
  station_id text not null references station (id),
  created_us integer not null                          -- unix microseconds
) strict, without rowid;

create index token_by_station on token (station_id);

pragma user_version = 5;
