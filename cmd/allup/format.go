package main

import (
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
)

func gramsCell(m model.Mass) sheet.Cell { return sheet.Number(m.Grams(), 1) }

func minutesCell(t model.Time) sheet.Cell { return sheet.Number(t.Minutes(), 1) }

func ratio(v float64) string { return words.Fixed(v, 1) }
