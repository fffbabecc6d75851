-- What was read from a photo, so that it is read once. Stands beside the journal: it can be computed again.
create table photo_extract (
  digest text not null,                                -- SHA-256 of the photo, hexadecimal
  edition text not null,                               -- edition of the reading
  extract text not null,                               -- as the server writes it; not interpreted here
  primary key (digest, edition)
) strict, without rowid;

pragma user_version = 16;
