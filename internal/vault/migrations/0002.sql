-- Version 2: measurements of a hand, apart from the baselines.
CREATE TABLE measurement (
  id INTEGER PRIMARY KEY,
  client INTEGER NOT NULL REFERENCES client ON DELETE CASCADE,
  side TEXT NOT NULL,
  taken INTEGER NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE INDEX measurement_client ON measurement (client, taken);
