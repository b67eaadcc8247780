UPDATE audit_identity SET staff_id = '00000000-0000-0000-0000-000000000000' WHERE staff_id IS NULL;
ALTER TABLE audit_identity ALTER COLUMN staff_id SET NOT NULL;
DROP TABLE cover_link;
