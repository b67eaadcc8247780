-- What a pupil said instead, as sounds, and how the pupil answered.
ALTER TABLE response ADD COLUMN heard TEXT;
ALTER TABLE response ADD COLUMN mode TEXT NOT NULL DEFAULT 'spoken';
