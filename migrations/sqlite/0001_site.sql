-- One row: whose journal this file holds, and how far it reaches.
-- 0x53545044 is "STPD"; it marks the file as a standpipe journal.
pragma application_id = 0x53545044;

create table site (
  only_row integer primary key check (only_row = 1),
  site text not null,                                  -- name of the site, as given at creation
  epoch blob not null check (length(epoch) = 16),      -- 128 random bits, new at every restore or copy
  identity_sha256 blob not null,                       -- SHA-256 of the epoch followed by the site's name
  size integer not null check (size >= 0),             -- entries in the journal
  frontier blob not null                               -- 32-byte roots of the full subtrees, largest first
) strict;

create trigger site_only_grows before update on site
when new.site is not old.site or new.size < old.size
begin
  select raise(abort, 'the site keeps its name and its journal only grows');
end;

create trigger site_stays before delete on site
begin
  select raise(abort, 'the site row is never deleted');
end;

pragma user_version = 1;
