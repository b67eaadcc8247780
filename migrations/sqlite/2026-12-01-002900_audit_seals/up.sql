-- Ends of a school's audit chain, signed by the server: one for each month (of UTC, 2026-11) that is over, and the
-- latest, which is called head and moves on.
CREATE TABLE audit_seal (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    segment TEXT NOT NULL,
    seq INTEGER NOT NULL,
    digest BLOB NOT NULL,
    key_id TEXT NOT NULL,
    signature TEXT NOT NULL,
    at INTEGER NOT NULL,
    PRIMARY KEY (school_id, segment)
) STRICT;

-- Entries of which who and whom were erased, and the entry that says so.
CREATE TABLE audit_erased (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    seq INTEGER NOT NULL,
    by_seq INTEGER NOT NULL CHECK (by_seq > seq),
    PRIMARY KEY (school_id, seq)
) STRICT;

-- The log is only added to. Who and whom go where an erasure says so, and in no other way.
CREATE TRIGGER audit_entry_kept_as_is BEFORE UPDATE ON audit_entry
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
CREATE TRIGGER audit_entry_kept BEFORE DELETE ON audit_entry
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
CREATE TRIGGER audit_identity_kept_as_is BEFORE UPDATE ON audit_identity
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
CREATE TRIGGER audit_identity_kept BEFORE DELETE ON audit_identity
WHEN NOT EXISTS (SELECT 1 FROM audit_erased WHERE school_id = OLD.school_id AND seq = OLD.seq)
BEGIN SELECT RAISE(ABORT, 'who and whom go by an erasure alone'); END;
CREATE TRIGGER audit_erased_kept_as_is BEFORE UPDATE ON audit_erased
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
CREATE TRIGGER audit_erased_kept BEFORE DELETE ON audit_erased
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
CREATE TRIGGER audit_seal_kept_as_is BEFORE UPDATE ON audit_seal
WHEN OLD.segment <> 'head' OR NEW.segment <> 'head' OR NEW.school_id <> OLD.school_id OR NEW.seq < OLD.seq
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
CREATE TRIGGER audit_seal_kept BEFORE DELETE ON audit_seal
BEGIN SELECT RAISE(ABORT, 'the audit log is only added to'); END;
