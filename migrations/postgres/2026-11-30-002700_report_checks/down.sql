ALTER TABLE report_snapshot DROP COLUMN checks;
