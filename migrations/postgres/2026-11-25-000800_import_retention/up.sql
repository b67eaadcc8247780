-- What stays of an import when its rows are gone, and until when they are kept; dropped where NULL.
ALTER TABLE roster_import ADD COLUMN summary JSON NOT NULL DEFAULT '{}';
ALTER TABLE roster_import ADD COLUMN kept_until TIMESTAMPTZ;
-- Imports from before go by the longest of the rule packs' times.
UPDATE roster_import SET kept_until = coalesce(confirmed_at, created_at) + interval '28 days';
