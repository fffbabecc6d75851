-- Plain settings of the site, such as the id of the current catalogue revision. May change.
create table setting (
  site text collate "C" not null,
  key text collate "C" not null,
  value text not null,
  primary key (site, key)
);
