package reading

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/program"
	"volar/internal/report"
	"volar/internal/review"
	"volar/internal/score"
	"volar/internal/today"
	"volar/internal/vault"
	"volar/ui/parts"
)

// stretches of weeks that can be looked back on.
var stretches = []int{4, 12, 26, 52}

// weeks is what changed over the weeks of a client's program.
type weeks struct {
	base
	client string
	back   func()
	long   int // index of stretches
	joint  int
	shown  int // what is shown where only one thing fits
	report *report.Report
	table  *parts.Table
	chart  *trend
}

// newWeeks reads the weeks of a client, and then shows them.
func newWeeks(r *Reader, client string, back func()) screen {
	return &weeks{base: base{r: r, title: "Weeks of " + client}, client: client, back: back, long: 1}
}

// Content is part of parts.Screen.
func (w *weeks) Content() fyne.CanvasObject {
	w.Clear()
	if w.report == nil {
		load(w.r, func(ctx context.Context) (*report.Report, error) {
			return gather(ctx, w.r, w.client, stretches[w.long])
		}, func(x *report.Report, err error) {
			if err != nil {
				w.r.show(trouble(w.r, "The weeks cannot be shown", err, func() { w.r.show(w) }, w.back))
				return
			}
			w.report = x
			w.r.show(w)
		})
		back := w.Action(parts.Plain, "Back", fyne.KeyEscape, w.back)
		w.first = back
		return w.page(parts.Heading(w.title), parts.Column(gap, text(fmt.Sprintf("The sessions of %d weeks are being read.", stretches[w.long]))), back)
	}
	x := w.report
	w.table = parts.NewTable([]parts.TableColumn{
		{Title: "joint", Weight: 1.3}, {Title: "baseline", Weight: 1.6}, {Title: "first week", Weight: 2}, {Title: "last week", Weight: 2},
	}, "No joint was seen.", w.chosen, nil).AtLeast(3)
	w.chart = newTrend(x.From, x.To)
	rows := make([]parts.TableRow, len(x.Ranges))
	for i, g := range x.Ranges {
		base := "none"
		if g.Baseline != nil {
			base = x.BaselineWords(*g.Baseline)
		}
		rows[i] = parts.TableRow{Cells: []string{w.name(i), base, x.RangeWords(g.First.Reach), x.RangeWords(g.Last.Reach)}}
	}
	w.table.SetRows(rows)
	w.table.Choose(w.joint)
	w.first = w.table
	sums := parts.NewTable([]parts.TableColumn{
		{Title: "finger", Weight: 0.9}, {Title: "composite", Weight: 1.1}, {Title: "TAM, ASSH grade", Weight: 2}, {Title: "Strickland, original", Weight: 2}, {Title: "Strickland, adjusted", Weight: 2},
	}, "", nil, nil).AtLeast(2)
	var sumRows []parts.TableRow
	for _, s := range x.Sums() {
		flexion := "incomplete"
		if s.Composite.Complete {
			flexion = angleNumber(s.Composite.Deg)
		}
		sumRows = append(sumRows, parts.TableRow{Cells: []string{s.Finger.String(), flexion, report.GradeWords(s.ASSH, s.TAM), report.GradeWords(s.Original, s.Between), report.GradeWords(s.Adjusted, s.Between)}})
	}
	sums.SetRows(sumRows)
	facts := parts.Column(6)
	for _, s := range w.facts() {
		facts.Add(text(s))
	}
	facts.Add(small(x.Style.Legend() + " A range is the median of a week's sessions, reached during exercise; ± is the error of one reading. Composite flexion, " + score.ASSHSystem + ", " + score.OriginalSystem + " and " + score.AdjustedSystem + " are of the last week; the joints reached their ends during exercise, not all in one fist. Incomplete: a joint was not judged."))
	actions := []fyne.CanvasObject{
		w.Action(parts.Plain, "Shorter", fyne.KeyLeft, func() { w.other(-1) }),
		w.Action(parts.Plain, "Longer", fyne.KeyRight, func() { w.other(1) }),
		w.Action(parts.Plain, "Report", fyne.KeyR, func() { w.r.show(newPaper(w.r, w.client, w.long, func() { w.r.show(w) })) }),
		w.Action(parts.Plain, "Back", fyne.KeyEscape, w.back),
	}
	var middle fyne.CanvasObject = over(beside(parts.Flush(w.table), w.chart, 0.5), beside(parts.Flush(sums), w.Scroll(facts), 0.62), 0.5)
	if parts.Large() {
		// One thing at a time, in full.
		middle = []fyne.CanvasObject{parts.Flush(w.table), w.chart, parts.Flush(sums), w.Scroll(facts)}[w.shown]
		actions = slices.Insert(actions, 0, fyne.CanvasObject(w.Action(parts.Lead, "More", fyne.KeyM, func() {
			w.shown = (w.shown + 1) % 4
			w.r.show(w)
		})))
	}
	head := parts.Column(2, parts.Heading(w.title), quiet(fmt.Sprintf("%s to %s; %s. Estimates, for your review.", x.From.Words(), x.To.Words(), plural(len(x.Sessions), "session", "sessions"))))
	return w.page(head, middle, actions...)
}

func (w *weeks) other(by int) {
	w.long = max(0, min(w.long+by, len(stretches)-1))
	w.report = nil
	w.r.show(w)
}

func (w *weeks) chosen(i int) {
	w.joint = i
	g := &w.report.Ranges[i]
	w.chart.Draw(w.name(i), g.Weeks, g.Baseline)
}

// name is that of a joint, with its hand where that is not the treated one.
func (w *weeks) name(i int) string {
	g := &w.report.Ranges[i]
	if g.Side == w.report.Side {
		return program.JointWords(g.Joint)
	}
	return program.JointWords(g.Joint) + review.HandWords(g.Side)
}

// gather reads everything that the last weeks of a client are made of.
func gather(ctx context.Context, r *Reader, client string, weeks int) (*report.Report, error) {
	store, now := r.opt.Store, r.opt.Now()
	c, err := store.Client(ctx, client)
	if err != nil {
		return nil, err
	}
	set, err := store.Settings(ctx)
	if err != nil {
		return nil, err
	}
	in := report.Input{Client: client, Side: c.Side(), Made: now, Zone: now.Location(), Software: r.opt.Software, Style: set.Angles}
	in.To = program.DateOf(now, in.Zone)
	in.From = in.To.AddDays(1 - 7*weeks)
	if in.History, err = store.History(ctx, client); err != nil {
		return nil, err
	}
	if b, err := store.Baseline(ctx, client, in.Side); err != nil {
		return nil, err
	} else if b != nil {
		in.Baseline, in.BaselineOn = today.OwnOf(b, "").Ranges, program.DateOf(b.CapturedAt, in.Zone)
	}
	if in.Reviews, err = store.ReviewsOf(ctx, client); err != nil {
		return nil, err
	}
	// A day more on either side is read, since a session's own day is that of
	// its zone.
	at := func(d program.Date) time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, in.Zone) }
	in.Sessions, err = read(ctx, r, vault.Filter{Client: client, From: at(in.From.AddDays(-1)), To: at(in.To.AddDays(2))})
	if err != nil {
		return nil, err
	}
	return report.Gather(in)
}

// facts are the weeks in sentences.
func (w *weeks) facts() []string {
	x := w.report
	var all []string
	if math.IsNaN(x.Adhered.Share) {
		all = append(all, "No program was in force in these weeks, so there is no share of a dose.")
	} else {
		all = append(all, fmt.Sprintf("Dose done: %.0f %% (%.0f of %.0f repetitions).", 100*x.Adhered.Share, x.Adhered.Done, x.Adhered.Prescribed))
	}
	all = append(all, fmt.Sprintf("Days with data: %d of the last 30, %d in all.", x.Adhered.Last30, x.Adhered.Active))
	var reviews []review.Review
	for _, v := range x.Reviews {
		reviews = append(reviews, v...)
	}
	month := review.Minutes(reviews, x.Made.Year(), x.Made.Month(), x.Zone)
	all = append(all, fmt.Sprintf("Time spent reading, in minutes: %.0f this month, %.0f over these weeks.", math.Ceil(month), math.Ceil(x.Minutes)))
	var pains []string
	for i := len(x.Pain) - 1; i >= 0 && len(pains) < 8; i-- {
		p := x.Pain[i]
		if p.Before == nil && p.After == nil {
			continue
		}
		pains = append(pains, fmt.Sprintf("%d %s: %s", p.Day.Day, p.Day.Month.String()[:3], pain(p.Before, p.After)))
	}
	if len(pains) > 0 {
		all = append(all, "Pain before → after, newest first: "+strings.Join(pains, "; ")+".")
	}
	for i := range x.Steady {
		all = append(all, x.Steady[i].Words())
	}
	if len(x.Steady) > 0 {
		all = append(all, review.StandingAdvice)
	}
	for i := range x.Doses {
		if len(x.Doses[i].Hands) > 0 {
			all = append(all, x.Doses[i].HandWords())
		}
	}
	all = append(all, fmt.Sprintf("%s. %s", review.Capital(plural(len(x.Flags), "flag", "flags")), hits(x.HitRate)))
	for _, c := range x.Changes {
		line := fmt.Sprintf("Program version %d from %s", c.Version, c.Day.Words())
		if len(c.Words) > 0 {
			line += ": " + strings.Join(c.Words, "; ")
		}
		all = append(all, line+".")
	}
	return all
}

// Key is part of parts.Screen: Up and Down go through the joints.
func (w *weeks) Key(k fyne.KeyName) {
	if k == fyne.KeyUp || k == fyne.KeyDown {
		if w.report != nil {
			w.table.Key(k)
		}
		return
	}
	w.base.Key(k)
}

// trendLabel names what a trend shows.
func trendLabel(joint string) string {
	return joint + ": most bent (dot) and least bent (wedge) by week; dashed: baseline"
}
