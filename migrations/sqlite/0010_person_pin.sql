-- What a person's PIN is compared with at the office pages. Stands beside the journal; goes with the person's name.
create table person_pin (
  code text primary key references person (code),
  phc text not null,                                   -- Argon2id hash with salt and costs, in the PHC string form
  set_us integer not null                              -- unix microseconds of the latest setting
) strict, without rowid;

-- No PIN survives the erasure of its person.
create trigger person_pin_erased after update of erased_us on person when new.erased_us is not null begin
  delete from person_pin where code = new.code;
end;

pragma user_version = 10;
