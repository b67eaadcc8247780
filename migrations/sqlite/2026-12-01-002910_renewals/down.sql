ALTER TABLE invitation DROP COLUMN renews;
