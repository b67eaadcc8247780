UPDATE pupil_decision SET before = json_set(before, '$.once', json(once)) WHERE before IS NOT NULL;
ALTER TABLE rollover DROP COLUMN undo_until;
ALTER TABLE pupil_decision DROP COLUMN undo_until;
ALTER TABLE pupil_decision DROP COLUMN once;
