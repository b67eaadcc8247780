-- Of several lines of one version the last stays.
DELETE FROM history WHERE EXISTS (SELECT 1 FROM history AS later WHERE later.school_id = history.school_id
    AND later.rec_kind = history.rec_kind AND later.rec_id = history.rec_id AND later.v = history.v AND later.turn > history.turn);
CREATE TABLE history_old (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    rec_kind TEXT NOT NULL,
    rec_id BLOB NOT NULL CHECK (length(rec_id) = 16),
    v INTEGER NOT NULL,
    at INTEGER NOT NULL,
    staff_id BLOB CHECK (length(staff_id) = 16),
    body TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (school_id, rec_kind, rec_id, v)
) STRICT;
INSERT INTO history_old SELECT school_id, rec_kind, rec_id, v, at, staff_id, body FROM history;
DROP TABLE history;
ALTER TABLE history_old RENAME TO history;
