-- One row a site: whose journal this is, how far it reaches, and who writes it. Everything of a site begins with its name.
create table site (
  site text collate "C" primary key,                   -- name of the site, as given at creation
  epoch bytea not null check (length(epoch) = 16),     -- 128 random bits, new at every restore or copy
  identity_sha256 bytea not null,                      -- SHA-256 of the epoch followed by the site's name
  size bigint not null check (size >= 0),              -- entries in the journal
  frontier bytea not null,                             -- 32-byte roots of the full subtrees, largest first
  writer bytea,                                        -- random bits of the server that opened it last; null if none did
  state text not null check (state in ('here', 'arriving', 'arrived', 'left'))
  -- here: in use. arriving: a move is being copied. arrived: copied and compared, not opened yet. left: moved away.
);

-- Refuses whatever it is put before, with the sentence that the trigger gives.
create function refuse() returns trigger language plpgsql as $$
begin
  raise exception using message = tg_argv[0], errcode = 'SP001';
end
$$;

create trigger site_only_grows before update on site for each row
when (new.site is distinct from old.site or new.size < old.size)
execute function refuse('the site keeps its name and its journal only grows');

create trigger site_stays before delete on site for each row
execute function refuse('the site row is never deleted');

create trigger site_not_emptied before truncate on site for each statement
execute function refuse('the site row is never deleted');
