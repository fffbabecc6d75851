-- Which kinds of facts a station may state, and who was let in or turned away. Stands beside the journal: may change.
create table station_kinds (
  station_id text primary key references station (id),
  kinds text not null                                  -- names of kinds, separated by commas; not interpreted here
) strict, without rowid;

create table audit (
  line integer primary key autoincrement,              -- in the order of writing; the smallest goes first
  at_us integer not null,                              -- unix microseconds of the first time
  until_us integer not null,                           -- unix microseconds of the last time
  times integer not null check (times > 0),            -- how often between the two
  what text not null,                                  -- word of the server; not interpreted here
  allowed integer not null check (allowed in (0, 1)),
  station text not null,                               -- station id; empty if none is known
  person text not null,                                -- person code; empty if none is known
  address text not null,                               -- network address without port; empty if none is known
  about text not null                                  -- for example the job or the method; never a name or a secret
) strict;

create unique index audit_once on audit (at_us, what, allowed, station, person, address, about);

-- The book stays bounded: for each line beyond these the oldest goes.
create trigger audit_bounded after insert on audit begin
  delete from audit where line <= new.line - 100000;
end;

pragma user_version = 15;
