-- +goose Up
-- The first logbook. Instants are UTC texts of fixed width; ids are texts;
-- fields and changes are JSON that only the program reads.

create table logbook (
	one integer primary key check (one = 1),
	id text not null check (length(id) = 36),
	made_by text not null check (made_by <> ''),
	made_at text not null check (length(made_at) = 24)
) strict;

create table source (
	id text primary key check (length(id) = 64),
	name text not null,
	bytes integer not null check (bytes >= 0),
	at text not null check (length(at) = 24),
	who text not null check (who <> ''),
	original blob not null,
	original_hash text not null check (length(original_hash) = 64)
) strict;

-- A record and its first revision point to each other. The revision is written
-- first and its pointer is looked at last: the other way round SQLite would
-- look through all records at each new revision for one that waits for it.
create table record (
	key text primary key check (length(key) = 36),
	kind text not null check (kind <> ''),
	state text not null check (state in ('live', 'withdrawn')),
	fields text not null check (json_valid(fields)),
	head text not null references revision (id),
	seq integer not null check (seq >= 1),
	programme text not null,
	team text not null,
	season text not null,
	site text not null,
	code text not null
) strict;

create index record_by_kind on record (kind, key);

create unique index record_identity on record (kind, programme, team, season, site, code)
	where state = 'live' and code <> '';

create table revision (
	id text primary key check (length(id) = 36),
	record text not null references record (key) deferrable initially deferred,
	seq integer not null check (seq >= 1),
	at text not null check (length(at) = 24),
	who text not null check (who <> ''),
	why text not null,
	source text references source (id),
	line integer not null check (line >= 0),
	action text not null check (action in ('create', 'revise', 'withdraw', 'reinstate', 'settle')),
	state text not null check (state in ('live', 'withdrawn')),
	changes text not null check (json_valid(changes)),
	digest text not null check (length(digest) = 64),
	check ((action = 'create') = (seq = 1)),
	check (action not in ('withdraw', 'reinstate') or why <> ''),
	check (action <> 'withdraw' or state = 'withdrawn'),
	check (action <> 'reinstate' or state = 'live')
) strict;

create index revision_by_record on revision (record, seq, at, id);

create index revision_by_source on revision (source, line) where source is not null;

create table alias (
	record text not null references record (key),
	source_name text not null,
	earlier text not null,
	line integer not null check (line >= 0),
	primary key (record, source_name, earlier, line)
) strict;

create index alias_by_source on alias (source_name, earlier, line);

create table redaction (
	id text primary key check (length(id) = 36),
	at text not null check (length(at) = 24),
	who text not null check (who <> ''),
	why text not null check (why <> ''),
	source text references source (id),
	record text references record (key),
	field text,
	hash text not null check (length(hash) = 64),
	check ((source is null) <> (record is null)),
	check ((record is null) = (field is null))
) strict;

create unique index redaction_of_source on redaction (source) where source is not null;

create index redaction_of_record on redaction (record) where record is not null;

-- What was accepted stays: the schema refuses to lose it.

-- +goose StatementBegin
create trigger revision_stays before delete on revision
begin
	select raise(abort, 'a revision is never deleted');
end;
-- +goose StatementEnd

-- +goose StatementBegin
create trigger revision_is_final before update on revision
	when new.id <> old.id or new.record <> old.record or new.seq <> old.seq or new.at <> old.at
		or new.source is not old.source or new.line <> old.line or new.action <> old.action or new.state <> old.state
		or not exists (select 1 from redaction where record = old.record)
begin
	select raise(abort, 'a revision is never changed, save by a redaction');
end;
-- +goose StatementEnd

-- +goose StatementBegin
create trigger record_stays before delete on record
begin
	select raise(abort, 'a record is withdrawn, never deleted');
end;
-- +goose StatementEnd

-- +goose StatementBegin
create trigger source_stays before delete on source
begin
	select raise(abort, 'an original is never deleted');
end;
-- +goose StatementEnd

-- +goose StatementBegin
create trigger source_is_final before update on source
	when new.id <> old.id or new.bytes <> old.bytes or new.at <> old.at
		or not exists (select 1 from redaction where source = old.id)
begin
	select raise(abort, 'an original is never changed, save by a redaction');
end;
-- +goose StatementEnd

-- +goose StatementBegin
create trigger redaction_stays before delete on redaction
begin
	select raise(abort, 'a redaction is never deleted');
end;
-- +goose StatementEnd
