-- Which of several things done at once it is: operations that a device sends together are one version, and each has its
-- own line.
CREATE TABLE history_new (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    rec_kind TEXT NOT NULL,
    rec_id BLOB NOT NULL CHECK (length(rec_id) = 16),
    v INTEGER NOT NULL,
    at INTEGER NOT NULL,
    staff_id BLOB CHECK (length(staff_id) = 16),
    body TEXT NOT NULL CHECK (json_valid(body)),
    turn INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (school_id, rec_kind, rec_id, v, turn)
) STRICT;
INSERT INTO history_new SELECT school_id, rec_kind, rec_id, v, at, staff_id, body, 0 FROM history;
DROP TABLE history;
ALTER TABLE history_new RENAME TO history;
