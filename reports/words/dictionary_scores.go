package words

var scoreEntries = []Entry{
	{"scores", "typical@", "Typical value", "points", "The typical value on the measure's own scale at the start of care (week 0) and near the week, had everybody gone on answering: a mixed model of the answers at the weeks stated, so that whoever stopped answering counts by what was answered before.", asMeasured},
	{"scores", "change@", "Typical change since the start", "points", "The typical value near the week less that at the start of care, by the same model.", asMeasured},
	{"scores", "at_best@", "At the best end of the scale", "share", "Of those who answered near the week: the share at the best end of the scale, from where nothing better can be told. Where that is many, the measure can no longer tell people apart.", asPercent},
	{"scores", "improved@", "Improved by more than the error of measuring", "share", "Of those who answered at the start and near the week: the share that improved by more than the smallest change that answering twice would not give by itself (95 %).", asPercent},
	{"scores", "worse@", "Became worse by more than that error", "share", "Of the same people: the share that became worse by more than that.", asPercent},
	{"scores", "important@", "Improved by the important change or more", "share", "Of the same people: the share that improved by the smallest change that counts to people, or more, as the code tables have it.", asPercent},
}
