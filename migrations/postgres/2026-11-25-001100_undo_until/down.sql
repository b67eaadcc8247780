UPDATE pupil_decision SET before = (before::jsonb || jsonb_build_object('once', once::jsonb))::json
WHERE before IS NOT NULL;
ALTER TABLE rollover DROP COLUMN undo_until;
ALTER TABLE pupil_decision DROP COLUMN undo_until;
ALTER TABLE pupil_decision DROP COLUMN once;
