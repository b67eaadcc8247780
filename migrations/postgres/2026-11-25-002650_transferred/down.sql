ALTER TABLE carried_check DROP COLUMN transferred;
