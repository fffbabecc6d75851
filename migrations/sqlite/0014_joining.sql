-- How a machine becomes a station, and how its token ends and is replaced. Stands beside the journal: may change.
create table join_code (
  code_sha256 blob primary key check (length(code_sha256) = 32),
  tag text not null,                                   -- beginning of the code, by which a wrong guess is counted
  station_id text not null references station (id),
  created_us integer not null,                         -- unix microseconds
  ends_us integer not null,                            -- unix microseconds; good before it
  tries integer not null,                              -- wrong guesses that had its tag
  used_token_sha256 blob                               -- token that it was used for; null while it is unused
) strict, without rowid;

create index join_code_by_tag on join_code (tag);

alter table token add column ends_us integer;          -- unix microseconds; null if it does not end
alter table token add column replaces_sha256 blob;     -- token that goes when this one is used first; null otherwise

pragma user_version = 14;
