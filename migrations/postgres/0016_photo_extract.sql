-- What was read from a photo, so that it is read once. Stands beside the journal: it can be computed again.
create table photo_extract (
  site text collate "C" not null,
  digest text collate "C" not null,                    -- SHA-256 of the photo, hexadecimal
  edition text collate "C" not null,                   -- edition of the reading
  extract text not null,                               -- as the server writes it; not interpreted here
  primary key (site, digest, edition)
);
