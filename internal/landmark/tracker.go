package landmark

import (
	"fmt"
	"image"
	"math"
	"time"

	"volar/internal/hand"
	"volar/internal/infer"
	"volar/models"
)

// Options says how many hands are wanted and how sure they must be. The zero
// value is one hand at the scores of the reference pipeline.
type Options struct {
	// MaxHands is how many hands are reported at most, 1 or 2; 0 means 1.
	MaxHands int
	// Expect is how many hands are to be seen, up to MaxHands; 0 means 1. While
	// fewer are in sight, the next is searched for harder: see Tracker.Expect.
	Expect int
	// MinDetection is the least score of a detected palm, and MinPresence the
	// least score at which the landmark model's word is taken that a hand is
	// there, each 0 to 1; 0 means 0.5. Half of MinPresence keeps a hand that is
	// followed, and a palm of less than MinDetection is taken where searches
	// agree.
	MinDetection, MinPresence float64
	// Threads is how many threads a model may use; 0 leaves it to the engine.
	Threads int
	// SearchEvery is how often the palm detector looks for a further hand that
	// has long been absent while another is followed; 0 means 300 ms. A hand
	// that is expected, or was lost within the last three seconds, is looked
	// for every 60 ms. When no hand is followed every picture is searched, and
	// one in which that finds none is looked at in one more way.
	SearchEvery time.Duration
}

func (o Options) withDefaults() (Options, error) {
	if o.MaxHands == 0 {
		o.MaxHands = 1
	}
	if o.Expect == 0 {
		o.Expect = 1
	}
	if o.MinDetection == 0 {
		o.MinDetection = 0.5
	}
	if o.MinPresence == 0 {
		o.MinPresence = 0.5
	}
	if o.SearchEvery == 0 {
		o.SearchEvery = 300 * time.Millisecond
	}
	switch {
	case o.MaxHands < 1 || o.MaxHands > 2:
		return o, fmt.Errorf("maximum of %d hands: want 1 or 2", o.MaxHands)
	case o.Expect < 1 || o.Expect > o.MaxHands:
		return o, fmt.Errorf("%d hands expected: want 1 to the maximum, %d", o.Expect, o.MaxHands)
	case !(o.MinDetection > 0 && o.MinDetection <= 1):
		return o, fmt.Errorf("least detection score %v: want above 0 to 1", o.MinDetection)
	case !(o.MinPresence > 0 && o.MinPresence <= 1):
		return o, fmt.Errorf("least presence score %v: want above 0 to 1", o.MinPresence)
	case o.Threads < 0:
		return o, fmt.Errorf("%d threads: want 0 or more", o.Threads)
	case o.SearchEvery < 0:
		return o, fmt.Errorf("search every %v: want 0 or more", o.SearchEvery)
	}
	return o, nil
}

const (
	// searchSoon and lostLately: see Options.SearchEvery. Two pictures at 30 a
	// second lie 67 ms apart, so a hand is found again within 100 ms.
	searchSoon = 60 * time.Millisecond
	lostLately = 3 * time.Second
	// grace is how long a hand may be out of sight and still be the same one
	// when it comes back to about the same place.
	grace = 200 * time.Millisecond
)

// keepPresence is the part of MinPresence at which a hand that is followed is
// still believed in. Where there was a hand a moment ago, little says that it
// is still there: on rendered hands in side views, most of those lost had read
// 0.25 to 0.5 with their points in the right place, and none of them had wrong
// ones. A hand must have been seen in settled pictures for that.
const (
	keepPresence = 0.5
	settled      = 3
)

// widen is how much larger the square is from which a followed hand is read once
// more where it is seen faintly only. The points of a hand whose fingers or palm
// are hidden draw together, and the square around them becomes too small: on
// rendered hands that close around a roll whose end hides the fingers, the hand
// was followed in 97 % of the pictures so, and in 87 % with the one square.
const widen = 1.25

// hunchLasts is how long a faint reading is remembered that other squares may
// confirm, and confirming how many of them must: with one alone a track began
// in 2 of 336 rendered rooms without a hand, with two in one of them.
const (
	hunchLasts = 400 * time.Millisecond
	confirming = 3
)

// Tracker finds hands in pictures and follows them from picture to picture.
// It is for one goroutine at a time.
type Tracker struct {
	options Options
	palms   *palmDetector
	hands   *landmarker

	tracks     []track
	lastID     int
	now        time.Duration // time of the latest picture
	lastSearch time.Duration
	lastLoss   time.Duration
	searched   bool // lastSearch is set
	lost       bool // lastLoss is set
	fruitless  int  // searches in a row, with too few hands in sight, that found none
	hunches    []hunch
	glanced    int // glances in a row that found none
	doubts     int // pictures in a row in which a doubted hand was looked for anew
	lastDoubt  time.Duration

	sightings []sighting // scratch
}

// track is one followed hand.
type track struct {
	id     int
	region hand.Region // where to look in the next picture
	seen   time.Duration
	side   sideEvidence
	// calm is of the points that are measured, calmShown of those drawn.
	calm, calmShown calm
	// pictures counts those in which the hand was sighted.
	pictures int
	// missing is true while the hand is out of sight and its grace runs.
	missing bool
	// gone is true once what was followed has turned out to be a part of a hand.
	gone bool
}

// sighting is a hand found in the present picture, and the index of the track
// that it goes on, or -1.
type sighting struct {
	reading
	track int
}

// hunch is a faint reading of a search, the square it came from, by its number,
// and its time.
type hunch struct {
	reading
	square int
	at     time.Duration
}

// New loads the two models into the engine. The engine stays the caller's and
// must outlive the Tracker.
func New(e infer.Engine, o Options) (*Tracker, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, fmt.Errorf("hand tracker: %w", err)
	}
	palms, err := loadGraph(e, models.PalmDetection, o.Threads)
	if err != nil {
		return nil, fmt.Errorf("hand tracker: palm detection model: %w", err)
	}
	hands, err := loadGraph(e, models.HandAngles, o.Threads)
	if err != nil {
		palms.Close() // the error above is the one to report
		return nil, fmt.Errorf("hand tracker: hand landmark model: %w", err)
	}
	t, err := newTracker(palms, hands, o)
	if err != nil {
		palms.Close()
		hands.Close()
		return nil, fmt.Errorf("hand tracker: %w", err)
	}
	return t, nil
}

func loadGraph(e infer.Engine, file func() ([]byte, error), threads int) (infer.Graph, error) {
	b, err := file()
	if err != nil {
		return nil, err
	}
	return e.Load(b, infer.Options{Threads: threads})
}

// newTracker builds a Tracker on loaded graphs, which it then owns.
func newTracker(palms, hands infer.Graph, o Options) (*Tracker, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	t := &Tracker{options: o}
	if t.palms, err = newPalmDetector(palms); err != nil {
		return nil, err
	}
	if t.hands, err = newLandmarker(hands); err != nil {
		return nil, err
	}
	return t, nil
}

// Close gives the models back. The Tracker must not be used afterwards.
func (t *Tracker) Close() error {
	return closeAll(t.palms.model, t.hands.model)
}

// Reset forgets every followed hand, as before another recording. Track
// numbers go on, so that no two hands of one Tracker ever share one.
func (t *Tracker) Reset() {
	t.tracks = t.tracks[:0]
	t.now, t.searched, t.lost, t.fruitless, t.glanced, t.doubts = 0, false, false, 0, 0, 0
	t.hunches = t.hunches[:0]
}

// Expect says anew how many hands are to be seen, 1 or 2 and at most MaxHands.
// While fewer are in sight, faint palms are read, too, and the picture is
// searched in other sizes and directions and, for two, in its halves. Where one
// hand exercises that would find further hands where there are none.
func (t *Tracker) Expect(hands int) {
	t.options.Expect = min(max(hands, 1), t.options.MaxHands)
}

// Track takes the next picture of a video, captured at the given time, and
// returns the hands in it, longest followed first. Times must not decrease;
// one that does is taken for a new recording, as after Reset. No hand is a
// nil slice and no error.
func (t *Tracker) Track(img *image.RGBA, at time.Duration) ([]hand.Observation, error) {
	w, h, err := pictureSize(img)
	if err != nil {
		return nil, fmt.Errorf("track hands: %w", err)
	}
	if at < t.now {
		t.Reset()
	}
	t.now = at

	t.sightings = t.sightings[:0]
	lostNow, err := t.follow(img)
	if err != nil {
		return nil, fmt.Errorf("track hands: %w", err)
	}
	if err := t.reconsider(img); err != nil {
		return nil, fmt.Errorf("track hands: %w", err)
	}
	if t.searchDue(lostNow) {
		if err := t.search(img); err != nil {
			return nil, fmt.Errorf("track hands: %w", err)
		}
		if err := t.glanceOnce(img); err != nil {
			return nil, fmt.Errorf("track hands: %w", err)
		}
	}
	t.settle(w, h)
	return t.observations(), nil
}

// follow looks for every known hand where it should be by now. lostNow is
// true if one of them was in sight until this picture.
func (t *Tracker) follow(img *image.RGBA) (lostNow bool, err error) {
	for i := range t.tracks {
		presence := t.options.MinPresence
		if t.tracks[i].pictures >= settled {
			presence *= keepPresence
		}
		r, err := t.hands.read(img, wandered(t.tracks[i].region, t.tracks[i].pictures), presence)
		if err != nil {
			return false, err
		}
		if r.presence < t.options.MinPresence {
			wide := t.tracks[i].region
			wide.Size *= widen
			again, err := t.hands.read(img, wide, presence)
			if err != nil {
				return false, err
			}
			if again.presence > r.presence {
				r = again
			}
		}
		if r.presence > 0 && r.plausible(img.Rect.Dx(), img.Rect.Dy()) {
			t.sightings = append(t.sightings, sighting{r, i})
		}
	}
	t.dropDuplicates()
	if len(t.sightings) >= t.options.Expect {
		t.fruitless = 0
	}

	for i := range t.tracks {
		if tr := &t.tracks[i]; !tr.missing && !tr.gone && !t.sighted(i) {
			tr.missing = true
			lostNow = true
		}
	}
	if lostNow {
		t.lastLoss, t.lost = t.now, true
	}
	return lostNow, nil
}

// searchDue says whether the palm detector is to look at this picture.
func (t *Tracker) searchDue(lostNow bool) bool {
	switch {
	case len(t.sightings) >= t.options.MaxHands:
		return false
	case len(t.sightings) == 0 || lostNow || !t.searched:
		return true
	case len(t.sightings) < t.options.Expect || t.lost && t.now-t.lastLoss <= lostLately:
		return t.now-t.lastSearch >= searchSoon
	}
	return t.now-t.lastSearch >= t.options.SearchEvery
}

// search runs the palm detector and takes up hands that are not yet followed.
func (t *Tracker) search(img *image.RGBA) error {
	t.lastSearch, t.searched = t.now, true
	w, h := img.Rect.Dx(), img.Rect.Dy()
	// A hand that was there a moment ago is likelier to be the cause of a
	// faint palm than a hand out of nowhere.
	least := t.options.MinDetection
	if t.anyMissing() {
		least *= lowDetection
	}
	// While too few are in sight faint palms are read, too, and a hand seen
	// faintly in several squares is taken.
	guess := len(t.sightings) < t.options.Expect
	where, square := squares[0].of(w, h), 0
	if guess {
		where, square = lookAt(t.fruitless, t.options.Expect, w, h)
		least = min(least, lowDetection*t.options.MinDetection)
	}
	presence := t.options.MinPresence
	if square != 0 {
		presence = max(secondLookPresence, presence)
	}
	t.fruitless++
	palms, err := t.palms.find(img, where, least)
	if err != nil {
		return err
	}
	for i := range palms {
		if len(t.sightings) >= t.options.MaxHands {
			return nil
		}
		if t.palmTaken(&palms[i]) {
			continue
		}
		r, err := t.hands.read(img, palmRegion(palms[i]), t.options.MinPresence)
		if err != nil {
			return err
		}
		if r.presence == 0 || !r.plausible(w, h) {
			continue
		}
		s := sighting{r, -1}
		if r.presence >= presence {
			s.track = t.comesBack(&r)
		}
		if s.track < 0 && (r.presence < presence || palms[i].score < t.options.MinDetection) && !(guess && t.confirmed(&r, square)) {
			continue
		}
		sure := r.presence >= presence && palms[i].score >= t.options.MinDetection
		if !t.duplicates(&s.reading, sure) {
			t.sightings = append(t.sightings, s)
		}
	}
	return nil
}

// confirmed says whether a faint reading is of a hand that enough other squares
// have shown faintly a moment ago, and remembers the reading.
func (t *Tracker) confirmed(r *reading, square int) bool {
	kept, others := t.hunches[:0], map[int]bool{}
	for _, h := range t.hunches {
		if t.now-h.at > hunchLasts {
			continue
		}
		kept = append(kept, h)
		if h.square != square && sameHand(&h.reading, r) {
			others[h.square] = true
		}
	}
	t.hunches = append(kept, hunch{*r, square, t.now})
	return len(others) >= confirming
}

func (t *Tracker) anyMissing() bool {
	for i := range t.tracks {
		if t.tracks[i].missing {
			return true
		}
	}
	return false
}

// palmTaken spares the landmark model a palm that is already reported.
func (t *Tracker) palmTaken(p *palm) bool {
	cx, cy := (p.x0+p.x1)/2, (p.y0+p.y1)/2
	for i := range t.sightings {
		s := &t.sightings[i]
		c := palmCentre(&s.image)
		if math.Hypot(c.X-cx, c.Y-cy) < samePalm*s.next.Size {
			return true
		}
	}
	return false
}

// comesBack returns the track of the missing hand that a newly found one must
// be, or -1: it is where that hand was, and not plainly of the other side.
func (t *Tracker) comesBack(r *reading) int {
	best, bestDistance := -1, math.Inf(1)
	for i := range t.tracks {
		tr := &t.tracks[i]
		if !tr.missing || tr.gone || t.sighted(i) {
			continue
		}
		if scoredSide(r.rightScore) != tr.side.side && math.Abs(r.rightScore-0.5)*r.agreement() > sideMargin {
			continue
		}
		d := math.Hypot(r.next.CX-tr.region.CX, r.next.CY-tr.region.CY)
		if d < tr.region.Size && d < bestDistance {
			best, bestDistance = i, d
		}
	}
	return best
}

func (t *Tracker) sighted(trackIndex int) bool {
	for i := range t.sightings {
		if t.sightings[i].track == trackIndex {
			return true
		}
	}
	return false
}

// settle brings the tracks up to this picture: hands seen move on, new ones
// begin, and those end that are missing for too long, gone over the rim, parts
// of another, or whose place another hand has taken.
func (t *Tracker) settle(w, h int) {
	for i := range t.sightings {
		s := &t.sightings[i]
		if s.track < 0 {
			t.lastID++
			s.track = len(t.tracks)
			t.tracks = append(t.tracks, track{id: t.lastID})
		}
		tr := &t.tracks[s.track]
		if tr.missing {
			tr.calm, tr.calmShown = calm{}, calm{}
		}
		tr.region, tr.seen, tr.missing = s.next, t.now, false
		tr.pictures++
		tr.side.add(s.rightScore, s.sideWeight(), t.now)
		s.image, s.shown = tr.calm.next(&s.image, t.now), tr.calmShown.next(&s.shown, t.now)
	}
	if len(t.sightings) == 2 {
		parted(&t.tracks[t.sightings[0].track].side, &t.tracks[t.sightings[1].track].side)
	}
	kept := t.tracks[:0]
	for i := range t.tracks {
		tr := t.tracks[i]
		if tr.gone || tr.missing && (t.now-tr.seen > grace || len(t.sightings) >= t.options.MaxHands || !usable(tr.region, w, h)) {
			continue
		}
		for j := range t.sightings {
			if t.sightings[j].track == i {
				t.sightings[j].track = len(kept)
			}
		}
		kept = append(kept, tr)
	}
	t.tracks = kept
}

// observations reports the sightings in the order of their tracks.
func (t *Tracker) observations() []hand.Observation {
	if len(t.sightings) == 0 {
		return nil
	}
	list := make([]hand.Observation, 0, len(t.sightings))
	for i := range t.tracks {
		for j := range t.sightings {
			if s := &t.sightings[j]; s.track == i {
				o := s.observation(t.now)
				tr := &t.tracks[i]
				o.Track, o.Side, o.SideScore, o.SideGuessed = tr.id, tr.side.side, tr.side.score(), tr.side.guessed()
				list = append(list, o)
			}
		}
	}
	return list
}

// observation is the reading in the project's words; the side is that of this
// picture alone.
func (r *reading) observation(at time.Duration) hand.Observation {
	return hand.Observation{
		Time:      at,
		Side:      scoredSide(r.rightScore),
		SideScore: max(r.rightScore, 1-r.rightScore),
		SeenSide:  scoredSide(r.rightScore),
		Presence:  r.presence,
		Image:     r.image,
		Shown:     r.shown,
		World:     r.world,
		Region:    r.region,
		Luma:      r.luma,
		Contrast:  r.contrast,
		Angles:    r.angles,
	}
}
