-- Tablets, who works on them, and what they sent. A replica is one person on one tablet; its operations are
-- numbered without a gap, and each has at most one effect.
CREATE TABLE tablet (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    added_by UUID NOT NULL,
    added_at TIMESTAMPTZ NOT NULL,
    revoked_by UUID,
    revoked_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, added_by) REFERENCES staff (school_id, id)
);

-- last_n is the number of the last operation that was answered, kept for good; safe_n what it was at the last
-- verified backup.
CREATE TABLE replica (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    tablet_id UUID NOT NULL,
    staff_id UUID NOT NULL,
    last_n BIGINT NOT NULL,
    safe_n BIGINT NOT NULL,
    last_seen_on DATE NOT NULL,
    added_at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, tablet_id) REFERENCES tablet (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
);
CREATE INDEX replica_by_tablet ON replica (school_id, tablet_id);

-- What was answered, until the tablet says that it knows. Of the operation itself only a digest is kept.
CREATE TABLE op (
    school_id UUID NOT NULL,
    replica_id UUID NOT NULL,
    n BIGINT NOT NULL,
    op_id UUID NOT NULL,
    sha256 BYTEA NOT NULL CHECK (length(sha256) = 32),
    outcome JSON NOT NULL,
    v BIGINT NOT NULL,
    kept_until TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, replica_id, n),
    FOREIGN KEY (school_id, replica_id) REFERENCES replica (school_id, id)
);

-- What came from a tablet that is revoked: for the lead to enter or discard, never taken unseen. What was discarded
-- has no body any more; its number stays, so that it does not come back when the tablet sends it again.
CREATE TABLE held_op (
    school_id UUID NOT NULL,
    replica_id UUID NOT NULL,
    n BIGINT NOT NULL,
    op_id UUID NOT NULL,
    body JSON,
    held_at TIMESTAMPTZ NOT NULL,
    kept_until TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, replica_id, n),
    FOREIGN KEY (school_id, replica_id) REFERENCES replica (school_id, id)
);

-- The day up to which the change log says who is where: places are dated ahead, so a new day can bring moves.
ALTER TABLE school ADD COLUMN places_on DATE;

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
