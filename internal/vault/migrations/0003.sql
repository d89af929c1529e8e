-- Version 3. A review is what package review says it is, and is never changed:
-- a reviewer's later thought is a further row. What a list shows of a session
-- that needs eyes is kept beside it.
CREATE TABLE reading (
  id INTEGER PRIMARY KEY,
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  reviewer TEXT NOT NULL,
  at INTEGER NOT NULL,
  read INTEGER NOT NULL,
  seconds INTEGER NOT NULL,
  body TEXT NOT NULL,
  UNIQUE (session, reviewer, at)
) STRICT;

-- The latest judgement of each flag.
CREATE TABLE judgement (
  session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
  flag INTEGER NOT NULL,
  verdict TEXT NOT NULL,
  at INTEGER NOT NULL,
  PRIMARY KEY (session, flag)
) STRICT, WITHOUT ROWID;

INSERT INTO reading (session, reviewer, at, read, seconds, body)
SELECT r.session, r.reviewer, r.updated * 1000, r.read IS NOT NULL, r.seconds, json_object(
  'volar_review', 1,
  'session', lower(substr(hex(s.uid), 1, 8) || '-' || substr(hex(s.uid), 9, 4) || '-' || substr(hex(s.uid), 13, 4) || '-' || substr(hex(s.uid), 17, 4) || '-' || substr(hex(s.uid), 21)),
  'client', c.code,
  'at', strftime('%Y-%m-%dT%H:%M:%fZ', r.updated / 1000.0, 'unixepoch'),
  'by', substr(r.reviewer, 1, 16),
  'read', json(iif(r.read IS NULL, 'false', 'true')),
  'marks', json((SELECT coalesce(json_group_array(json_object('flag', m.flag, 'judgement', m.verdict)), '[]') FROM mark m WHERE m.session = r.session AND m.reviewer = r.reviewer)),
  'note', json_object('assessment', r.note),
  'seconds', r.seconds)
FROM review r JOIN session s ON s.id = r.session JOIN client c ON c.id = s.client;

INSERT INTO judgement (session, flag, verdict, at)
SELECT m.session, m.flag, m.verdict, max(r.updated) * 1000 FROM mark m JOIN review r ON r.session = m.session AND r.reviewer = m.reviewer
GROUP BY m.session, m.flag;

DROP TABLE mark;
DROP TABLE review;

ALTER TABLE session ADD COLUMN summary TEXT NOT NULL DEFAULT '';
ALTER TABLE session ADD COLUMN why TEXT NOT NULL DEFAULT '';
ALTER TABLE session ADD COLUMN eyes INTEGER NOT NULL DEFAULT 0;
DROP INDEX session_urgent;
-- What needs eyes, as a list sorts it: see Order.
CREATE INDEX session_eyes ON session ((read IS NOT NULL), (iif(read IS NULL, eyes, 0)) DESC, started DESC, id DESC);
CREATE INDEX session_undigested ON session (id) WHERE summary = '';
