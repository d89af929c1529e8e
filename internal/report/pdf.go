package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/score"
)

// maxFlags is how many flags the report tells one by one; more are summed up,
// and all are in the program.
const maxFlags = 24

// PDF writes the report as a therapist would file it.
func (r *Report) PDF(w io.Writer) error {
	p := newPage("Home program report "+r.Client,
		"Client "+r.Client+", "+r.days()+". Camera estimates, for review by the therapist.", r.Made)
	p.title("Home program report", fmt.Sprintf("Client %s, %s. %s. Made on %s with %s.", r.Client, r.handsWords(), review.Capital(r.days()), r.Made.In(r.Zone).Format("2 January 2006"), r.Software))
	r.summaryPart(p)
	r.dosePart(p)
	if err := r.rangePart(p); err != nil {
		return err
	}
	if err := r.flagPart(p); err != nil {
		return err
	}
	r.unjudgedPart(p)
	r.painPart(p)
	r.changePart(p)
	r.notePart(p)
	p.heading("How the angles were measured", 20)
	p.text(method)
	p.heading("For the client", 12)
	p.text(caution)
	return p.write(w)
}

func (r *Report) summaryPart(p *page) {
	p.heading("In short", 20)
	counted := 0
	for i := range r.Summary {
		counted += r.Summary[i].Counted
	}
	lines := []string{fmt.Sprintf("%s on %s; %d repetitions counted.", plural(len(r.Sessions), "session"), plural(r.Adhered.Active, "day"), counted)}
	if !math.IsNaN(r.Adhered.Share) {
		lines = append(lines, fmt.Sprintf("Share of the prescribed dose done: %s (%.0f of %.0f repetitions). Days with data in the last 30: %d.",
			share(r.Adhered.Share), r.Adhered.Done, r.Adhered.Prescribed, r.Adhered.Last30))
	} else {
		lines = append(lines, "No program was in force on these days, so there is no share of a dose.")
	}
	if n := len(r.Flags); n > 0 {
		line := plural(n, "flag") + "."
		if h := r.HitRate; h.Right+h.Wrong > 0 {
			line += fmt.Sprintf(" Of those looked at: right %d, wrong %d, unclear %d (right: %s, 95 %% interval %s to %s).", h.Right, h.Wrong, h.Unclear, share(h.Share), share(h.Low), share(h.High))
		} else {
			line += " None has been looked at yet."
		}
		lines = append(lines, line)
	} else {
		lines = append(lines, "No flags.")
	}
	if r.Minutes > 0 {
		lines = append(lines, fmt.Sprintf("Time spent looking at these sessions: %s.", plural(int(math.Ceil(r.Minutes)), "minute")))
	}
	p.text(strings.Join(lines, "\n"))
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

func (r *Report) dosePart(p *page) {
	p.heading("Dose prescribed and done", 30)
	var rows [][]string
	for _, d := range r.Doses {
		dose := "not prescribed"
		part := "–"
		if d.Prescribed > 0 {
			dose = fmt.Sprintf("%d × %d", d.Dose.Sets, d.Dose.Repetitions)
			if d.Dose.HoldSeconds > 0 {
				dose += fmt.Sprintf(", hold %g s", d.Dose.HoldSeconds)
			}
			dose += fmt.Sprintf(", %s a day, %s a week", plural(d.Dose.TimesADay, "time"), plural(d.Dose.DaysAWeek, "day"))
			part = fmt.Sprintf("%d of %.0f", d.Done, d.Prescribed)
		} else {
			part = strconv.Itoa(d.Done)
		}
		if d.Stopped {
			part += "; stopped"
		}
		what := d.Movement
		if d.Object != "" {
			what += ", " + d.Object
		}
		rows = append(rows, []string{what, d.View.Name, dose, part, cmp.Or(d.Limits, "none")})
	}
	p.table([]column{{"exercise and object", 52, false}, {"view", 22, false}, {"dose", 38, false}, {"repetitions done", 26, false}, {"limits set by the therapist", 40, false}}, rows)
	for _, d := range r.Doses {
		if len(d.Hands) > 0 {
			p.small(d.HandWords())
		}
	}
	if len(r.Adhered.Days) > 1 {
		if b, err := doneByDay(r.Adhered.Days); err != nil {
			p.SetError(err)
		} else {
			p.room(46)
			p.small("Counted repetitions of each day; the dashed line is the day's part of the prescribed dose.")
			p.picture("PNG", b, margin, p.GetY(), textWidth, 40)
			p.SetY(p.GetY() + 42)
		}
	}
}

func (r *Report) rangePart(p *page) error {
	p.heading("Active range of motion", 40)
	if len(r.Ranges) == 0 {
		p.text("No joint was seen well enough.")
		return nil
	}
	head := "baseline"
	if !r.BaselineOn.IsZero() {
		head += " of " + r.BaselineOn.String()
	}
	var rows [][]string
	for _, x := range r.Ranges {
		base, norm := "–", "–"
		if b := x.Baseline; b != nil {
			base = r.BaselineWords(*b)
		}
		if n, ok := r.Norms.Of(x.Joint); ok {
			norm = r.Style.Write(score.Motion{Extension: score.Reading{Deg: n.Span.From, Judged: n.HasFrom}, Flexion: score.Judged(n.Span.To)}, 1)
			if n.FromMemory {
				norm += " *"
			}
		}
		rows = append(rows, []string{jointWords(x.Joint) + r.whose(x.Side), base, r.RangeWords(x.First.Reach), r.RangeWords(x.Last.Reach), norm})
	}
	p.table([]column{{"joint", 38, false}, {head, 34, false}, {"first week seen", 36, false}, {"last week seen", 36, false}, {"norm: " + r.Norms.Name, 34, false}}, rows)
	p.small(r.Style.Legend() + " Median over the sessions of a week of the farthest that was reached during exercise; ± is the standard error of one reading. Norms: " + r.Norms.Source + ". * from memory.")
	r.steadyPart(p)
	r.sumPart(p)
	return r.trendPart(p)
}

// steadyPart tells of joints that read past straight all the time, which is no
// flag and must not be overlooked.
func (r *Report) steadyPart(p *page) {
	if len(r.Steady) == 0 {
		return
	}
	p.Ln(2)
	p.room(12)
	var lines []string
	for _, x := range r.Steady {
		lines = append(lines, x.Words())
	}
	p.text(strings.Join(append(lines, review.StandingAdvice), "\n"))
}

// Words say of how many sessions it was so.
func (x *Steady) Words() string {
	return fmt.Sprintf("%s: read about %s whenever it was straight, in %s (camera estimate).", review.Capital(x.At()), review.AngleWords(x.Deg), plural(x.Sessions, "session"))
}

// HandWords say what each hand did of an exercise of two.
func (d *Dose) HandWords() string {
	var parts []string
	for _, h := range d.Hands {
		parts = append(parts, h.Side.String()+" hand "+h.Words())
	}
	return review.MovementName(d.Movement) + ": " + strings.Join(parts, "; ") + "."
}

// sumPart adds the last week's joints up as the trade does. A sum with a joint
// that was not judged has no number.
func (r *Report) sumPart(p *page) {
	var rows [][]string
	for _, x := range r.Sums() {
		flexion := "incomplete"
		if x.Composite.Complete {
			flexion = fmt.Sprintf("%.0f°%s", x.Composite.Deg, review.PlusMinus(x.Composite.SEDeg))
		}
		rows = append(rows, []string{x.Finger.String(), flexion, GradeWords(x.ASSH, x.TAM), GradeWords(x.Original, x.Between), GradeWords(x.Adjusted, x.Between)})
	}
	p.Ln(2)
	p.room(40)
	p.table([]column{{"finger", 18, false}, {"composite flexion", 28, false}, {score.ASSHSystem, 44, false}, {score.OriginalSystem, 44, false}, {score.AdjustedSystem, 44, false}}, rows)
	p.small("From the last week seen; the joints reached their ends during exercise, not all in one fist. Degrees past straight count as nothing. Incomplete: a joint was not judged.")
}

// trendPart plots the middle knuckles, and others that have a limit or a flag.
func (r *Report) trendPart(p *page) error {
	var show []*Range
	for i := range r.Ranges {
		x := &r.Ranges[i]
		flagged := slices.ContainsFunc(r.Flags, func(f Flag) bool {
			return f.Subject == x.Joint.String() && (f.Side == x.Side || f.Side == hand.UnknownSide || x.Side == hand.UnknownSide)
		})
		if len(x.Weeks) > 1 && (x.Joint.Kind() == hand.PIP || flagged) {
			show = append(show, x)
		}
	}
	if len(show) == 0 {
		return nil
	}
	p.room(60)
	p.Ln(2)
	p.small("By week: most bent (round, blue), least bent where it was judged (triangle, red), with the standard error of a reading; dashed: the baseline.")
	const w, h = 86.0, 46.0
	for i, x := range show {
		b, err := trend(jointWords(x.Joint)+r.whose(x.Side), x.Weeks, x.Baseline, r.From, r.To)
		if err != nil {
			return err
		}
		if i%2 == 0 {
			p.room(h + 2)
		}
		p.picture("PNG", b, margin+float64(i%2)*(w+6), p.GetY(), w, h)
		if i%2 == 1 || i == len(show)-1 {
			p.SetY(p.GetY() + h + 2)
		}
	}
	return nil
}

func (r *Report) flagPart(p *page) error {
	p.heading("Flags", 20)
	if len(r.Flags) == 0 {
		p.text("None.")
		return nil
	}
	order := slices.Clone(r.Flags)
	// Limits first, the farthest past them first; the rest as they came.
	slices.SortStableFunc(order, func(a, b Flag) int {
		x, y := review.PastLimit(&a.Flag), review.PastLimit(&b.Flag)
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	d, err := newDrawer()
	if err != nil {
		return err
	}
	told := order[:min(len(order), maxFlags)]
	pictured := 0
	var rows [][]string
	for i := range told {
		f := &told[i]
		judged := string(f.Judgement)
		if judged == "" {
			judged = "not yet"
		}
		rows = append(rows, []string{f.Day.String(), clock(f.Start), review.MovementName(f.Exercise), review.Capital(review.FlagWords(&f.Flag)) + review.WhoseWords(&f.Flag, r.Side), judged})
	}
	p.table([]column{{"day", 23, false}, {"at", 11, false}, {"exercise", 38, false}, {"what", 86, false}, {"looked at", 20, false}}, rows)
	if more := len(order) - len(told); more > 0 {
		p.small(fmt.Sprintf("And %d more, which went less far.", more))
	}
	// Four pictures in a row of those that went farthest.
	x := 0
	for i := range told {
		f := &told[i]
		if pictured == 4 || review.PastLimit(&f.Flag) == 0 {
			break
		}
		data, kind, caption, err := r.flagPicture(d, f)
		if err != nil {
			return err
		}
		if data == nil {
			continue
		}
		if x == 0 {
			p.room(48)
			p.Ln(2)
		}
		px := margin + float64(x)*45
		p.picture(kind, data, px, p.GetY(), 42, 35)
		y := p.GetY()
		p.SetXY(px, y+35.5)
		p.font("", 7.5, ink)
		p.MultiCell(42, 3.4, caption, "", "L", false)
		p.SetXY(margin, y)
		x++
		pictured++
	}
	if x > 0 {
		p.SetY(p.GetY() + 46)
	}
	return nil
}

// flagPicture is the kept picture of a flag, else the hand drawn at the angles
// that were measured then; nil where neither is to be had.
func (r *Report) flagPicture(d *drawer, f *Flag) (data []byte, kind, caption string, err error) {
	what := f.Day.String() + " " + clock(f.Start) + ", " + review.FaultWords(f.Kind, f.Subject) + review.WhoseWords(&f.Flag, r.Side)
	if f.Picture != nil {
		return f.Picture.JPEG, "JPEG", what + ": kept picture", nil
	}
	if !f.HasPose {
		return nil, "", "", nil
	}
	yaw := 85.0
	if j, err := hand.ParseJoint(f.Subject); err == nil && j.Finger() >= hand.Ring {
		yaw = -85
	}
	b, err := d.pose(f.Pose, cmp.Or(f.Side, r.Side), yaw)
	return b, "PNG", what + ": drawn from the estimated angles", err
}

func (r *Report) unjudgedPart(p *page) {
	p.heading("What could not be judged", 16)
	var rows [][]string
	for _, u := range r.Unjudged {
		if u.Share < 0.05 {
			continue
		}
		what := "angle"
		if u.Extension {
			what = "whether past straight"
		}
		rows = append(rows, []string{jointWords(u.Joint) + r.whose(u.Side), what, share(u.Share), string(u.Why)})
	}
	if len(rows) == 0 {
		p.text("Nothing for more than 5 % of the exercises' time.")
		return
	}
	p.table([]column{{"joint", 44, false}, {"what", 46, false}, {"share of the time", 40, true}, {"mostly because", 48, false}}, rows)
}

func (r *Report) painPart(p *page) {
	var rows [][]string
	for _, x := range r.Pain {
		if x.Before == nil && x.After == nil && !x.Stopped {
			continue
		}
		note := ""
		if x.Stopped {
			note = "stopped for pain"
		}
		rows = append(rows, []string{x.Day.String(), painWords(x.Before, x.After), note})
	}
	p.heading("Pain, 0 to 10, before and after", 16)
	if len(rows) == 0 {
		p.text("Not answered.")
		return
	}
	p.table([]column{{"day", 40, false}, {"before → after", 50, false}, {"", 88, false}}, rows)
}

func (r *Report) changePart(p *page) {
	if len(r.Changes) == 0 {
		return
	}
	p.heading("Changes of the program", 16)
	var rows [][]string
	for _, c := range r.Changes {
		words := strings.Join(c.Words, "\n")
		if words == "" {
			words = "first version"
		}
		rows = append(rows, []string{c.Day.String(), strconv.Itoa(c.Version), words})
	}
	p.table([]column{{"from", 30, false}, {"version", 18, true}, {"what changed", 130, false}}, rows)
}

// notePart is the note in the trade's order. What the program knows stands
// first; the assessment is the therapist's alone.
