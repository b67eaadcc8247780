-- Whether accepting it gives a new password to an account that is there already, and ends all its sign-ins.
ALTER TABLE invitation ADD COLUMN renews INTEGER NOT NULL DEFAULT 0 CHECK (renews IN (0, 1));
