-- The last day on which it can be taken back; what that would put back is dropped after it. What a
-- record that is gone was known by stays, since files may still name it.
ALTER TABLE pupil_decision ADD COLUMN once TEXT CHECK (json_valid(once));
ALTER TABLE pupil_decision ADD COLUMN undo_until TEXT CHECK (undo_until IS date(undo_until));
ALTER TABLE rollover ADD COLUMN undo_until TEXT CHECK (undo_until IS date(undo_until));
-- What was decided before goes by the rule packs' days.
UPDATE pupil_decision
SET once = json_extract(before, '$.once'), before = json_remove(before, '$.once'),
    undo_until = date(decided_at / 1000000, 'unixepoch', '+180 days')
WHERE before IS NOT NULL;
UPDATE rollover SET undo_until = date(json_extract(shown, '$.first'), '+28 days') WHERE before IS NOT NULL;
