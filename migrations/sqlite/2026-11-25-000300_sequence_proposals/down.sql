DROP TABLE sequence_proposal;
