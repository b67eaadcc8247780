-- Tablets, who works on them, and what they sent. A replica is one person on one tablet; its operations are
-- numbered without a gap, and each has at most one effect.
CREATE TABLE tablet (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    added_by BLOB NOT NULL CHECK (length(added_by) = 16),
    added_at INTEGER NOT NULL,
    revoked_by BLOB CHECK (length(revoked_by) = 16),
    revoked_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, added_by) REFERENCES staff (school_id, id)
) STRICT;

-- last_n is the number of the last operation that was answered, kept for good; safe_n what it was at the last
-- verified backup.
CREATE TABLE replica (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    tablet_id BLOB NOT NULL CHECK (length(tablet_id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    last_n INTEGER NOT NULL,
    safe_n INTEGER NOT NULL,
    last_seen_on TEXT NOT NULL CHECK (last_seen_on IS date(last_seen_on)),
    added_at INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, tablet_id) REFERENCES tablet (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
) STRICT;
CREATE INDEX replica_by_tablet ON replica (school_id, tablet_id);

-- What was answered, until the tablet says that it knows. Of the operation itself only a digest is kept.
CREATE TABLE op (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    replica_id BLOB NOT NULL CHECK (length(replica_id) = 16),
    n INTEGER NOT NULL,
    op_id BLOB NOT NULL CHECK (length(op_id) = 16),
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    outcome TEXT NOT NULL CHECK (json_valid(outcome)),
    v INTEGER NOT NULL,
    kept_until INTEGER NOT NULL,
    PRIMARY KEY (school_id, replica_id, n),
    FOREIGN KEY (school_id, replica_id) REFERENCES replica (school_id, id)
) STRICT;

-- What came from a tablet that is revoked: for the lead to enter or discard, never taken unseen. What was discarded
-- has no body any more; its number stays, so that it does not come back when the tablet sends it again.
CREATE TABLE held_op (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    replica_id BLOB NOT NULL CHECK (length(replica_id) = 16),
    n INTEGER NOT NULL,
    op_id BLOB NOT NULL CHECK (length(op_id) = 16),
    body TEXT CHECK (json_valid(body)),
    held_at INTEGER NOT NULL,
    kept_until INTEGER NOT NULL,
    PRIMARY KEY (school_id, replica_id, n),
    FOREIGN KEY (school_id, replica_id) REFERENCES replica (school_id, id)
) STRICT;

-- The day up to which the change log says who is where: places are dated ahead, so a new day can bring moves.
ALTER TABLE school ADD COLUMN places_on TEXT CHECK (places_on IS date(places_on));

-- No device has read the log so far. Who is where is written into it anew, with all that goes along, when the first
-- one does: whoever left a group before has left it with all of that. The names of staff and what the school is
-- called are in it from now on.
DELETE FROM change WHERE rec_kind IN ('pupil', 'pupil_answering', 'response', 'sitting', 'exemption');
INSERT INTO change (school_id, scope_kind, scope_id, rec_kind, rec_id, v, kind)
    SELECT staff.school_id, 'school', staff.school_id, 'staff_name', staff.id, school.version, 'put'
    FROM staff JOIN school ON school.id = staff.school_id;
INSERT INTO change (school_id, scope_kind, scope_id, rec_kind, rec_id, v, kind)
    SELECT id, 'school', id, 'school', id, version, 'put' FROM school
    WHERE NOT EXISTS (SELECT 1 FROM change c WHERE c.school_id = school.id AND c.rec_kind = 'school');
CREATE INDEX change_by_record ON change (school_id, rec_kind, rec_id);
