package home

import (
	"fmt"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/sound"
	"volar/ui/look"
	"volar/ui/parts"
)

// settings are the client's choices on look and sound. They are kept in the
// program's preferences, since they say nothing of anybody's health.
type settings struct {
	prefs fyne.Preferences
}

const (
	keyScale   = "text-percent"
	keyVariant = "look"
	keyTones   = "tones"
	keySpeech  = "speech"
)

func loadSettings(p fyne.Preferences) settings { return settings{p} }

func (s settings) scale() int { return s.prefs.IntWithFallback(keyScale, 100) }
func (s settings) variant() look.Variant {
	return look.Variant(s.prefs.IntWithFallback(keyVariant, int(look.System)))
}
func (s settings) tones() bool  { return s.prefs.BoolWithFallback(keyTones, true) }
func (s settings) speech() bool { return s.prefs.BoolWithFallback(keySpeech, true) }

// apply puts the choices into effect.
func (s settings) apply(a fyne.App, p *sound.Player) {
	a.Settings().SetTheme(look.Theme{Variant: s.variant(), Scale: float32(s.scale()) / 100})
	if p != nil {
		p.Set(s.tones(), s.speech())
	}
}

// options is the screen where they are changed.
type options struct{ base }

func newSettings(h *Home) *options { return &options{base{h: h}} }

var (
	scales   = []int{100, 125, 150, 200}
	variants = []string{look.System: "as the desktop", look.Light: "light", look.Dark: "dark"}
)

func (s *options) Content() fyne.CanvasObject {
	set := s.h.settings
	change := func(f func()) func() {
		return func() {
			f()
			set.apply(s.h.opt.App, s.h.opt.Sound)
			s.h.show(newSettings(s.h))
		}
	}
	onOff := map[bool]string{true: "on", false: "off"}
	tones, speech := "Tones: "+onOff[set.tones()], "Spoken cues: "+onOff[set.speech()]
	hint := ""
	if p := s.h.opt.Sound; p != nil {
		st := p.Status()
		switch {
		case !st.CanTone:
			hint = "There is no program here that plays sounds (pw-play, paplay or aplay); everything is shown on the screen too."
		case st.Trouble != nil:
			hint = "The last sound could not be played: " + st.Trouble.Error()
		case !st.CanSpeak:
			hint = "There is no program here that speaks (spd-say or espeak-ng); cues are shown on the screen."
		}
	}
	body := parts.Column(gap,
		s.action(parts.Plain, fmt.Sprintf("Text: %d %%", set.scale()), fyne.Key1, change(func() {
			set.prefs.SetInt(keyScale, following(scales, set.scale()))
		})),
		s.action(parts.Plain, "Look: "+variants[set.variant()], fyne.Key2, change(func() {
			set.prefs.SetInt(keyVariant, (int(set.variant())+1)%len(variants))
		})),
		s.action(parts.Plain, tones, fyne.Key3, change(func() { set.prefs.SetBool(keyTones, !set.tones()) })),
		s.action(parts.Plain, speech, fyne.Key4, change(func() { set.prefs.SetBool(keySpeech, !set.speech()) })))
	if s.h.opt.Post != nil {
		body.Add(s.action(parts.Plain, "From and to your therapist", fyne.Key5, func() { s.h.show(s.h.opt.Post(s.h.today)) }))
	}
	if hint != "" {
		body.Add(quiet(hint))
	}
	if words := s.h.engineWords(); words != "" {
		body.Add(quiet(words))
	}
	back := s.action(parts.Lead, "Back to today", fyne.KeySpace, s.h.today)
	s.first = back
	return s.screen("Settings", s.Scroll(parts.Measure(body)), back)
}

// engineWords say what looks for the hand and what that costs, once there was a
// sitting in which it was measured.
func (h *Home) engineWords() string {
	if h.works == 0 {
		return ""
	}
	return fmt.Sprintf("Your hand is measured by %s; a picture takes %d ms.", h.engine.Name(), h.works.Round(time.Millisecond).Milliseconds())
}

// following is the value after this one, round and round.
func following(list []int, v int) int {
	for i, x := range list {
		if x == v {
			return list[(i+1)%len(list)]
		}
	}
	return list[0]
}
