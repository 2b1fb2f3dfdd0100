package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
)

// completeBuild offers build files for the first argument.
func completeBuild(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return []string{"toml"}, cobra.ShellCompDirectiveFilterFileExt
}

// completeChange offers build files first, then changes with the ids of the catalogue.
func (a *app) completeChange(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
	if len(args) == 0 {
		return completeBuild(cmd, args, typed)
	}
	slot, _, begun := strings.Cut(typed, "=")
	if !begun {
		return []string{"frame=", "motor=", "prop=", "board=", "pack=", "with=", "without="},
			cobra.ShellCompDirectiveNoSpace | cobra.ShellCompDirectiveNoFileComp
	}
	a.quiet = true
	var ids []string
	if slot == "without" {
		if args[0] == "-" {
			return nil, cobra.ShellCompDirectiveNoFileComp // what comes in cannot be read twice
		}
		if b, err := a.build(args[0]); err == nil {
			ids = slices.Clone(b.Slots.Gear)
			for _, e := range b.Extras {
				ids = append(ids, e.ID)
			}
		}
	} else if cat, err := a.catalogue(); err == nil {
		kind := catalog.Kind(slot)
		if slot == "with" {
			kind = catalog.KindGear
		}
		ids = cat.IDs(kind)
	}
	var offers []string
	for _, id := range ids {
		offers = append(offers, slot+"="+id)
	}
	slices.Sort(offers)
	return slices.Compact(offers), cobra.ShellCompDirectiveNoFileComp
}

// completeID offers the ids of the whole catalogue.
func (a *app) completeID(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	a.quiet = true
	cat, err := a.catalogue()
	if err != nil || len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var ids []string
	for _, kind := range catalog.Kinds() {
		ids = append(ids, cat.IDs(kind)...)
	}
	return ids, cobra.ShellCompDirectiveNoFileComp
}

// completeFlag offers values for a flag of a command.
func completeFlag(cmd *cobra.Command, flag string, values func() []string) {
	err := cmd.RegisterFlagCompletionFunc(flag, func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return values(), cobra.ShellCompDirectiveNoFileComp
	})
	if err != nil {
		panic(err) // a flag that the command does not have is a mistake in the program
	}
}

// packIDs are the ids of the packs of the catalogue, without those of a build.
func (a *app) packIDs() []string {
	a.quiet = true
	cat, err := a.catalogue()
	if err != nil {
		return nil
	}
	return cat.IDs(catalog.KindPack)
}
