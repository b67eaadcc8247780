-- One line on what helped a pupil to read, as an adult wrote it last. It stands here and in no history, so that
-- removing it removes it.
CREATE TABLE what_helped (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    text TEXT NOT NULL,
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    written_by BLOB NOT NULL CHECK (length(written_by) = 16),
    at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, pupil_id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
