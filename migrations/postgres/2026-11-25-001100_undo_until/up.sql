-- The last day on which it can be taken back; what that would put back is dropped after it. What a
-- record that is gone was known by stays, since files may still name it.
ALTER TABLE pupil_decision ADD COLUMN once JSON;
ALTER TABLE pupil_decision ADD COLUMN undo_until DATE;
ALTER TABLE rollover ADD COLUMN undo_until DATE;
-- What was decided before goes by the rule packs' days.
UPDATE pupil_decision
SET once = before -> 'once', before = (before::jsonb - 'once')::json,
    undo_until = (decided_at AT TIME ZONE 'UTC')::date + 180
WHERE before IS NOT NULL;
UPDATE rollover SET undo_until = (shown ->> 'first')::date + 28 WHERE before IS NOT NULL;
