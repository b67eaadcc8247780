DROP TRIGGER audit_entry_kept_as_is;
DROP TRIGGER audit_entry_kept;
DROP TRIGGER audit_identity_kept_as_is;
DROP TRIGGER audit_identity_kept;
DROP TABLE audit_seal;
DROP TABLE audit_erased;
