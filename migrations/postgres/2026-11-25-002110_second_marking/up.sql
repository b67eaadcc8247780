-- Second marking of a sample of a round's check: one of each. How it was drawn is kept, so that it can be drawn
-- again.
CREATE TABLE second_marking (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    round_id UUID NOT NULL,
    check_id UUID NOT NULL,
    seed BIGINT NOT NULL,
    drawn_from INTEGER NOT NULL,
    without_adult INTEGER NOT NULL,
    asked_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, round_id, check_id),
    FOREIGN KEY (school_id, round_id, check_id) REFERENCES round_check (school_id, round_id, check_id)
);

-- Whom the sample holds, and who marks a second time.
CREATE TABLE second_sample (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    second_marking_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    staff_id UUID NOT NULL,
    basis TEXT COLLATE "C",
    given_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, second_marking_id) REFERENCES second_marking (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX second_sample_by_marking ON second_sample (school_id, second_marking_id);
CREATE INDEX second_sample_by_pupil ON second_sample (school_id, pupil_id);

-- The second marks, beside the responses and never instead of them.
CREATE TABLE second_mark (
    school_id UUID NOT NULL,
    second_sample_id UUID NOT NULL,
    item_id UUID NOT NULL,
    outcome TEXT COLLATE "C" NOT NULL,
    heard TEXT COLLATE "C",
    PRIMARY KEY (school_id, second_sample_id, item_id),
    FOREIGN KEY (school_id, second_sample_id) REFERENCES second_sample (school_id, id)
);

-- Why an answer was corrected.
ALTER TABLE response ADD COLUMN reason TEXT COLLATE "C";
