-- Version 1. See the package documentation for units and for what each table is.
CREATE TABLE setting (
  name TEXT PRIMARY KEY,
  value BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE client (
  id INTEGER PRIMARY KEY,
  code TEXT NOT NULL UNIQUE,
  side TEXT NOT NULL,
  precautions TEXT NOT NULL,
  next_review TEXT NOT NULL,
  retain_until TEXT NOT NULL,
  pictures_client INTEGER NOT NULL,
  pictures_therapist INTEGER NOT NULL,
  created INTEGER NOT NULL
) STRICT;

CREATE TABLE program (
  id INTEGER PRIMARY KEY,
  client INTEGER NOT NULL REFERENCES client ON DELETE CASCADE,
  name TEXT NOT NULL,
  number INTEGER NOT NULL,
  valid_from TEXT NOT NULL,
  hash BLOB NOT NULL,
  body BLOB NOT NULL,
  created INTEGER NOT NULL,
  UNIQUE (client, number)
) STRICT;

CREATE TABLE baseline (
  id INTEGER PRIMARY KEY,
  client INTEGER NOT NULL REFERENCES client ON DELETE CASCADE,
  side TEXT NOT NULL,
  captured INTEGER NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE INDEX baseline_client ON baseline (client, captured);

CREATE TABLE session (
  id INTEGER PRIMARY KEY,
  uid BLOB NOT NULL UNIQUE,
  client INTEGER NOT NULL REFERENCES client ON DELETE CASCADE,
  program TEXT NOT NULL,
  version INTEGER NOT NULL,
  started INTEGER NOT NULL,
  zone TEXT NOT NULL,
  software TEXT NOT NULL,
  consent INTEGER NOT NULL,
  state TEXT NOT NULL,
  ended INTEGER NOT NULL DEFAULT 0,
  samples INTEGER NOT NULL DEFAULT 0,
  found INTEGER NOT NULL DEFAULT 0,
  exercises INTEGER NOT NULL DEFAULT 0,
  done INTEGER NOT NULL DEFAULT 0,
  stopped INTEGER NOT NULL DEFAULT 0,
  skipped INTEGER NOT NULL DEFAULT 0,
  prescribed INTEGER NOT NULL DEFAULT 0,
  counted INTEGER NOT NULL DEFAULT 0,
  partial INTEGER NOT NULL DEFAULT 0,
  unjudged INTEGER NOT NULL DEFAULT 0,
  pain_before INTEGER,
  pain_after INTEGER,
  effort INTEGER,
  hurt INTEGER NOT NULL DEFAULT 0,
  sharp INTEGER NOT NULL DEFAULT 0,
  flags INTEGER NOT NULL DEFAULT 0,
  limits INTEGER NOT NULL DEFAULT 0,
  new_flags INTEGER NOT NULL DEFAULT 0,
  pictures INTEGER NOT NULL DEFAULT 0,
  read INTEGER
) STRICT;
CREATE INDEX session_client ON session (client, started);
CREATE INDEX session_started ON session (started);
-- What needs eyes, as a list sorts it: see Order.
CREATE INDEX session_urgent ON session (
  (8 * (stopped > 0 OR hurt > 0 OR sharp > 0) + 4 * (limits > 0) + 2 * (new_flags > 0) + (2 * counted < prescribed)), started, id);
CREATE INDEX session_unread ON session (started) WHERE read IS NULL;
CREATE INDEX session_open ON session (id) WHERE state = 'open';

CREATE TABLE batch (
  id INTEGER PRIMARY KEY,
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  seq INTEGER NOT NULL,
  samples INTEGER NOT NULL,
  found INTEGER NOT NULL,
  digest BLOB NOT NULL,
  body BLOB NOT NULL,
  UNIQUE (session, seq)
) STRICT;

CREATE TABLE picture (
  id INTEGER PRIMARY KEY,
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  number INTEGER NOT NULL,
  at INTEGER NOT NULL,
  exercise INTEGER NOT NULL,
  flag INTEGER NOT NULL,
  width INTEGER NOT NULL,
  height INTEGER NOT NULL,
  x0 REAL NOT NULL,
  y0 REAL NOT NULL,
  x1 REAL NOT NULL,
  y1 REAL NOT NULL,
  jpeg BLOB NOT NULL,
  UNIQUE (session, number)
) STRICT;

CREATE TABLE exercise (
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  number INTEGER NOT NULL,
  movement TEXT NOT NULL,
  outcome TEXT NOT NULL,
  prescribed INTEGER NOT NULL,
  counted INTEGER NOT NULL,
  partial INTEGER NOT NULL,
  unjudged INTEGER NOT NULL,
  pain_before INTEGER,
  pain_after INTEGER,
  effort INTEGER,
  sharp INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (session, number)
) STRICT;

CREATE TABLE flag (
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  number INTEGER NOT NULL,
  client INTEGER NOT NULL,
  started INTEGER NOT NULL,
  movement TEXT NOT NULL,
  exercise INTEGER NOT NULL,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  side TEXT NOT NULL,
  repetition INTEGER NOT NULL,
  start INTEGER NOT NULL,
  finish INTEGER,
  peak_deg REAL NOT NULL,
  limit_deg REAL NOT NULL,
  se_deg REAL NOT NULL,
  took INTEGER NOT NULL,
  wanted INTEGER NOT NULL,
  say TEXT NOT NULL,
  PRIMARY KEY (session, number)
) STRICT;
CREATE INDEX flag_known ON flag (client, kind, subject, movement, started);

CREATE TABLE answer (
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  seq INTEGER NOT NULL,
  number INTEGER NOT NULL,
  at INTEGER NOT NULL,
  exercise INTEGER NOT NULL,
  kind TEXT NOT NULL,
  value INTEGER,
  text TEXT NOT NULL,
  PRIMARY KEY (session, seq, number)
) STRICT;

CREATE TABLE review (
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  reviewer TEXT NOT NULL,
  read INTEGER,
  note TEXT NOT NULL,
  seconds INTEGER NOT NULL,
  updated INTEGER NOT NULL,
  PRIMARY KEY (session, reviewer)
) STRICT;

CREATE TABLE mark (
  session INTEGER NOT NULL,
  reviewer TEXT NOT NULL,
  flag INTEGER NOT NULL,
  verdict TEXT NOT NULL,
  PRIMARY KEY (session, reviewer, flag),
  FOREIGN KEY (session, reviewer) REFERENCES review ON DELETE CASCADE
) STRICT;

CREATE TABLE outbox (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  kind TEXT NOT NULL,
  client TEXT NOT NULL,
  body BLOB NOT NULL,
  created INTEGER NOT NULL,
  attempts INTEGER NOT NULL DEFAULT 0,
  tried INTEGER,
  problem TEXT NOT NULL DEFAULT '',
  sent INTEGER
) STRICT;
CREATE INDEX outbox_client ON outbox (client);

CREATE TABLE inbox (
  name TEXT PRIMARY KEY,
  kind TEXT NOT NULL,
  client TEXT NOT NULL,
  digest BLOB NOT NULL,
  received INTEGER NOT NULL,
  state TEXT NOT NULL,
  problem TEXT NOT NULL DEFAULT '',
  body BLOB NOT NULL
) STRICT;
CREATE INDEX inbox_client ON inbox (client);
