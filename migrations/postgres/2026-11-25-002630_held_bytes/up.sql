-- How long what is held is, so that what one person's tablet fills is bounded. What is held already counts as nothing.
ALTER TABLE held_op ADD COLUMN bytes BIGINT NOT NULL DEFAULT 0;
