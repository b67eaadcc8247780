-- The pupils of the statutory checks held by the day, under pseudonyms, who may not be on roll any more. None in snapshots
-- taken before these were kept: nothing of a check is released of them.
ALTER TABLE report_snapshot ADD COLUMN checks JSON;
