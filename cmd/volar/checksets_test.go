package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/program"
)

func TestSetsAndRestsAreTold(t *testing.T) {
	var done []program.Attempt
	for _, s := range []float64{0, 6, 42, 48, 66, 72} {
		done = append(done, program.Attempt{Start: at(s), End: at(s + 5), Counted: s != 72})
	}
	r := checkResult{Program: &programResult{Sets: 2, Repetitions: 2, RestS: 20}}
	r.fillSets(done)
	out, err := json.Marshal(r)
	require.NoError(t, err)
	require.Contains(t, string(out), `"sets":[{"counted":2,"start_s":0,"end_s":11},{"counted":2,"start_s":42,"end_s":53},{"counted":1,"start_s":66,"end_s":77}],`+
		`"rests":[{"start_s":11,"end_s":42,"rested_s":31,"wanted_s":20,"verdict":"long"},{"start_s":53,"end_s":66,"rested_s":13,"wanted_s":20,"verdict":"short"}]`)
	var b strings.Builder
	r.printSets(&printer{w: &b})
	require.Equal(t, `Sets         1 of 2: 2 of 2 repetitions, 0.0 to 11.0 s
             2 of 2: 2 of 2 repetitions, 42.0 to 53.0 s
             3, beyond the 2: 1 of 2 repetitions, 66.0 to 77.0 s
Rests        1.  11.0 to 42.0 s  rested 31.0 s of 20 s  longer than prescribed
             2.  53.0 to 66.0 s  rested 13.0 s of 20 s  shorter than prescribed
`, b.String())

	none := checkResult{}
	none.fillSets(done)
	require.Empty(t, none.Sets, "without a program there are no sets")
	b.Reset()
	idle := checkResult{Program: &programResult{Sets: 2, Repetitions: 2, RestS: 20}}
	idle.fillSets(nil)
	idle.printSets(&printer{w: &b})
	require.Equal(t, "Sets         none of 2 begun\n", b.String())
}
