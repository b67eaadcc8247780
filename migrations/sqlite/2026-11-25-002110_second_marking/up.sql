-- Second marking of a sample of a round's check: one of each. How it was drawn is kept, so that it can be drawn
-- again.
CREATE TABLE second_marking (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    round_id BLOB NOT NULL CHECK (length(round_id) = 16),
    check_id BLOB NOT NULL CHECK (length(check_id) = 16),
    seed INTEGER NOT NULL,
    drawn_from INTEGER NOT NULL,
    without_adult INTEGER NOT NULL,
    asked_by BLOB NOT NULL CHECK (length(asked_by) = 16),
    at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, round_id, check_id),
    FOREIGN KEY (school_id, round_id, check_id) REFERENCES round_check (school_id, round_id, check_id)
) STRICT;

-- Whom the sample holds, and who marks a second time.
CREATE TABLE second_sample (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    second_marking_id BLOB NOT NULL CHECK (length(second_marking_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    basis TEXT,
    given_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, second_marking_id) REFERENCES second_marking (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX second_sample_by_marking ON second_sample (school_id, second_marking_id);
CREATE INDEX second_sample_by_pupil ON second_sample (school_id, pupil_id);

-- The second marks, beside the responses and never instead of them.
CREATE TABLE second_mark (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    second_sample_id BLOB NOT NULL CHECK (length(second_sample_id) = 16),
    item_id BLOB NOT NULL CHECK (length(item_id) = 16),
    outcome TEXT NOT NULL,
    heard TEXT,
    PRIMARY KEY (school_id, second_sample_id, item_id),
    FOREIGN KEY (school_id, second_sample_id) REFERENCES second_sample (school_id, id)
) STRICT;

-- Why an answer was corrected.
ALTER TABLE response ADD COLUMN reason TEXT;
