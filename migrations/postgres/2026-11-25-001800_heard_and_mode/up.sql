-- What a pupil said instead, as sounds, and how the pupil answered.
ALTER TABLE response ADD COLUMN heard TEXT COLLATE "C";
ALTER TABLE response ADD COLUMN mode TEXT COLLATE "C" NOT NULL DEFAULT 'spoken';
