-- Plain settings of the site, such as the id of the current catalogue revision. May change.
create table setting (
  key text primary key,
  value text not null
) strict, without rowid;

pragma user_version = 8;
