-- One line on what helped a pupil to read, as an adult wrote it last. It stands here and in no history, so that
-- removing it removes it.
CREATE TABLE what_helped (
    school_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    text TEXT COLLATE "C" NOT NULL,
    on_date DATE NOT NULL,
    written_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, pupil_id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
