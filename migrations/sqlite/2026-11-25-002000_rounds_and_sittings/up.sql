-- Whom a round is for and who checks whom, by ids; and the day on which its days were last said.
ALTER TABLE check_round ADD COLUMN plan TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(plan));
ALTER TABLE check_round ADD COLUMN said_on TEXT CHECK (said_on IS date(said_on));

-- One adult asking one pupil one check. What was answered are responses; here is who goes on with it.
CREATE TABLE sitting (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    round_id BLOB NOT NULL CHECK (length(round_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    check_id BLOB NOT NULL CHECK (length(check_id) = 16),
    begun_at INTEGER NOT NULL,
    adults TEXT NOT NULL CHECK (json_valid(adults)),
    paused_at INTEGER,
    finished_at INTEGER,
    finished_by BLOB CHECK (length(finished_by) = 16),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
) STRICT;
CREATE INDEX sitting_by_round ON sitting (school_id, round_id, pupil_id);
CREATE INDEX sitting_by_pupil ON sitting (school_id, pupil_id);

-- Pupils who are not asked in a round, or not one of its checks, and why: a code of the rule pack.
CREATE TABLE exemption (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    round_id BLOB NOT NULL CHECK (length(round_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    check_id BLOB CHECK (length(check_id) = 16),
    reason TEXT NOT NULL,
    review_on TEXT NOT NULL CHECK (review_on IS date(review_on)),
    said_by BLOB NOT NULL CHECK (length(said_by) = 16),
    said_at INTEGER NOT NULL,
    ended_by BLOB CHECK (length(ended_by) = 16),
    ended_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
) STRICT;
CREATE INDEX exemption_by_round ON exemption (school_id, round_id, pupil_id);
CREATE INDEX exemption_by_pupil ON exemption (school_id, pupil_id);

-- The sitting an answer was given in, and whether the round was over when it came.
ALTER TABLE response ADD COLUMN sitting_id BLOB CHECK (length(sitting_id) = 16);
ALTER TABLE response ADD COLUMN late INTEGER NOT NULL DEFAULT 0 CHECK (late IN (0, 1));
