-- How a machine becomes a station, and how its token ends and is replaced. Stands beside the journal: may change.
create table join_code (
  site text collate "C" not null,
  code_sha256 bytea not null check (length(code_sha256) = 32),
  tag text collate "C" not null,                       -- beginning of the code, by which a wrong guess is counted
  station_id text collate "C" not null,
  created_us bigint not null,                          -- unix microseconds
  ends_us bigint not null,                             -- unix microseconds; good before it
  tries bigint not null,                               -- wrong guesses that had its tag
  used_token_sha256 bytea,                             -- token that it was used for; null while it is unused
  primary key (site, code_sha256),
  foreign key (site, station_id) references station (site, id)
);

create index join_code_by_tag on join_code (site, tag);

alter table token add column ends_us bigint;           -- unix microseconds; null if it does not end
alter table token add column replaces_sha256 bytea;    -- token that goes when this one is used first; null otherwise
