-- Whom a round is for and who checks whom, by ids; and the day on which its days were last said.
ALTER TABLE check_round ADD COLUMN plan JSON NOT NULL DEFAULT '{}';
ALTER TABLE check_round ADD COLUMN said_on DATE;

-- One adult asking one pupil one check. What was answered are responses; here is who goes on with it.
CREATE TABLE sitting (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    round_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    check_id UUID NOT NULL,
    begun_at TIMESTAMPTZ NOT NULL,
    adults JSON NOT NULL,
    paused_at TIMESTAMPTZ,
    finished_at TIMESTAMPTZ,
    finished_by UUID,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
);
CREATE INDEX sitting_by_round ON sitting (school_id, round_id, pupil_id);
CREATE INDEX sitting_by_pupil ON sitting (school_id, pupil_id);

-- Pupils who are not asked in a round, or not one of its checks, and why: a code of the rule pack.
CREATE TABLE exemption (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    round_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    check_id UUID,
    reason TEXT COLLATE "C" NOT NULL,
    review_on DATE NOT NULL,
    said_by UUID NOT NULL,
    said_at TIMESTAMPTZ NOT NULL,
    ended_by UUID,
    ended_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
);
CREATE INDEX exemption_by_round ON exemption (school_id, round_id, pupil_id);
CREATE INDEX exemption_by_pupil ON exemption (school_id, pupil_id);

-- The sitting an answer was given in, and whether the round was over when it came.
ALTER TABLE response ADD COLUMN sitting_id UUID;
ALTER TABLE response ADD COLUMN late BOOLEAN NOT NULL DEFAULT FALSE;
