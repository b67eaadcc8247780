ALTER TABLE roster_import DROP COLUMN kept_until;
ALTER TABLE roster_import DROP COLUMN summary;
