DROP TABLE audit_seal;
DROP TABLE audit_erased;
DROP TRIGGER audit_entry_kept ON audit_entry;
DROP TRIGGER audit_entry_not_emptied ON audit_entry;
DROP TRIGGER audit_identity_kept_as_is ON audit_identity;
DROP TRIGGER audit_identity_kept ON audit_identity;
DROP TRIGGER audit_identity_not_emptied ON audit_identity;
DROP FUNCTION audit_identity_kept();
DROP FUNCTION audit_kept();
