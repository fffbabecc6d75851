-- What a person's PIN is compared with at the office pages. Stands beside the journal; goes with the person's name.
create table person_pin (
  site text collate "C" not null,
  code text collate "C" not null,
  phc text not null,                                   -- Argon2id hash with salt and costs, in the PHC string form
  set_us bigint not null,                              -- unix microseconds of the latest setting
  primary key (site, code),
  foreign key (site, code) references person (site, code)
);

-- No PIN survives the erasure of its person.
create function drop_pin() returns trigger language plpgsql as $$
begin
  delete from person_pin where site = new.site and code = new.code;
  return null;
end
$$;

create trigger person_pin_erased after update of erased_us on person for each row
when (new.erased_us is not null)
execute function drop_pin();
