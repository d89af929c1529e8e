package home

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/ui/parts"
)

// caution is what a client confirms before the first session.
type caution struct{ base }

// Cautions before the first session, and in every printout (common practice).
var cautions = []string{
	"Begin only with the consent of the clinician who knows your hand.",
	"Work gently and stay below pain. Mild tiredness afterwards is common.",
	"Stop and call your therapist if pain stabs, burns or spreads, if there is new numbness or swelling, or if a joint locks.",
	"You can stop at any moment: press Escape, or the large button \"It hurts\".",
	"What the program shows are estimates, for review by your therapist. It knows nothing of your hand but what the camera sees.",
	"Pictures from the camera stay in this computer's memory and are not kept unless you and your therapist both agreed. What was measured is kept on this computer, encrypted.",
}

func newCaution(h *Home) *caution { return &caution{base{h: h}} }

func (s *caution) Content() fyne.CanvasObject {
	list := parts.Column(14)
	for _, c := range cautions {
		// The point stands beside the first line, however many follow.
		point := parts.Column(0, parts.NewBadge(parts.Point, 1.36*theme.TextSize()))
		list.Add(parts.Row(gap, []float32{0, 1}, point, text(c)))
	}
	yes := s.action(parts.Lead, "My clinician agrees, I have read this", fyne.KeySpace, func() {
		if err := s.h.store.Consent(s.h.opt.Clock()); err != nil {
			s.h.trouble("Your answer could not be kept", err, s.h.Run)
			return
		}
		s.h.today()
	})
	no := s.action(parts.Plain, "Not yet: close", fyne.KeyN, s.h.opt.Leave)
	return s.screen("Before you begin", s.Scroll(parts.Measure(list)), yes, no)
}
