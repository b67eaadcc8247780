-- Ends of a school's audit chain, signed by the server: one for each month (of UTC, 2026-11) that is over, and the
-- latest, which is called head and moves on.
CREATE TABLE audit_seal (
    school_id UUID NOT NULL,
    segment TEXT COLLATE "C" NOT NULL,
    seq BIGINT NOT NULL,
    digest BYTEA NOT NULL,
    key_id TEXT COLLATE "C" NOT NULL,
    signature TEXT COLLATE "C" NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, segment)
);

-- Entries of which who and whom were erased, and the entry that says so.
CREATE TABLE audit_erased (
    school_id UUID NOT NULL,
    seq BIGINT NOT NULL,
    by_seq BIGINT NOT NULL CHECK (by_seq > seq),
    PRIMARY KEY (school_id, seq)
);

-- The log is only added to. Who and whom go where an erasure says so, and in no other way.
CREATE FUNCTION audit_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'the audit log is only added to'; END $$;
CREATE FUNCTION audit_identity_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT 1 FROM audit_erased WHERE school_id = OLD.school_id AND seq = OLD.seq) THEN
        RAISE EXCEPTION 'who and whom go by an erasure alone';
    END IF;
    RETURN OLD;
END $$;
CREATE TRIGGER audit_entry_kept BEFORE UPDATE OR DELETE ON audit_entry
    FOR EACH ROW EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_identity_kept_as_is BEFORE UPDATE ON audit_identity
    FOR EACH ROW EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_identity_kept BEFORE DELETE ON audit_identity
    FOR EACH ROW EXECUTE FUNCTION audit_identity_kept();
CREATE TRIGGER audit_erased_kept BEFORE UPDATE OR DELETE ON audit_erased
    FOR EACH ROW EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_seal_kept_as_is BEFORE UPDATE ON audit_seal
    FOR EACH ROW WHEN (OLD.segment <> 'head' OR NEW.segment <> 'head' OR NEW.school_id <> OLD.school_id
        OR NEW.seq < OLD.seq)
    EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_seal_kept BEFORE DELETE ON audit_seal
    FOR EACH ROW EXECUTE FUNCTION audit_kept();
-- A table is emptied by neither way above.
CREATE TRIGGER audit_entry_not_emptied BEFORE TRUNCATE ON audit_entry EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_identity_not_emptied BEFORE TRUNCATE ON audit_identity EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_erased_not_emptied BEFORE TRUNCATE ON audit_erased EXECUTE FUNCTION audit_kept();
CREATE TRIGGER audit_seal_not_emptied BEFORE TRUNCATE ON audit_seal EXECUTE FUNCTION audit_kept();
