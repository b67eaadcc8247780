-- What stays of an import when its rows are gone, and until when they are kept; dropped where NULL.
ALTER TABLE roster_import ADD COLUMN summary TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(summary));
ALTER TABLE roster_import ADD COLUMN kept_until INTEGER;
-- Imports from before go by the longest of the rule packs' times: 28 days, in microseconds.
UPDATE roster_import SET kept_until = coalesce(confirmed_at, created_at) + 28 * 86400000000;
