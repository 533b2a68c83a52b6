package cli

import "github.com/urfave/cli/v2"

// commands lists every verb, in the order in which help shows them.
func (p *program) commands() []*cli.Command {
	return []*cli.Command{
		p.registerCommand(), p.showCommand(), p.editCommand(), p.findCommand(), p.whichCommand(), p.matchCommand(), p.labelsCommand(),
		p.takeCommand(), p.returnCommand(), p.handoverCommand(), p.awayCommand(), p.backCommand(), p.boardCommand(),
		p.wrongCommand(), p.clearCommand(), p.swapCommand(), p.goneCommand(),
		p.readyCommand(), p.tightenCommand(), p.measureCommand(), p.calibrateCommand(), p.benchCommand(),
		p.countCommand(), p.markingCommand(), p.recheckCommand(), p.inspectCommand(), p.dueCommand(), p.calendarCommand(),
		p.lossCommand(), p.claimCommand(), p.packetCommand(), p.worthCommand(), p.gapsCommand(), p.jobCommand(), p.allBackCommand(), p.peopleCommand(), p.placesCommand(), p.settingsCommand(),
		p.importCommand(), p.exportCommand(), p.evidenceCommand(), p.historyCommand(), p.checkpointCommand(), p.verifyCommand(),
		p.tokenCommand(), p.clockCommand(), p.choresCommand(), p.backupCommand(), p.restoreCommand(), p.moveCommand(), p.doctorCommand(), p.serveCommand(), p.manualCommand(), p.demoCommand(),
	}
}
