-- Which kinds of facts a station may state, and who was let in or turned away. Stands beside the journal: may change.
create table station_kinds (
  site text collate "C" not null,
  station_id text collate "C" not null,
  kinds text not null,                                 -- names of kinds, separated by commas; not interpreted here
  primary key (site, station_id),
  foreign key (site, station_id) references station (site, id)
);

create table audit (
  site text collate "C" not null,
  line bigint not null,                                -- in the order of writing; the smallest goes first
  at_us bigint not null,                               -- unix microseconds of the first time
  until_us bigint not null,                            -- unix microseconds of the last time
  times bigint not null check (times > 0),             -- how often between the two
  what text collate "C" not null,                      -- word of the server; not interpreted here
  allowed bigint not null check (allowed in (0, 1)),
  station text collate "C" not null,                   -- station id; empty if none is known
  person text collate "C" not null,                    -- person code; empty if none is known
  address text collate "C" not null,                   -- network address without port; empty if none is known
  about text collate "C" not null,                     -- for example the job or the method; never a name or a secret
  primary key (site, line)
);

create unique index audit_once on audit (site, at_us, what, allowed, station, person, address, about);

-- The book stays bounded: for each line beyond these the oldest goes.
create function drop_oldest_audit() returns trigger language plpgsql as $$
begin
  delete from audit where site = new.site and line <= new.line - 100000;
  return null;
end
$$;

create trigger audit_bounded after insert on audit for each row
execute function drop_oldest_audit();
