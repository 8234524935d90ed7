/** What is wrong with the tablet or the app itself. Never on a moving page. */

export const en = {
  troubleWords: {
    blocked:
      "The tablet's storage does not open. Close the app's other windows; this one then goes on by itself. Until then no report can be saved here: call, and write it down.",
    damaged:
      "The tablet's storage cannot be read. Nothing was deleted. No report can be saved here: call, and write it down. Restart the tablet; if this stays, tell the depot.",
    newer:
      "A newer version of the app wrote this storage. Nothing was deleted. No report can be saved here: call, and write it down. Connect the tablet to the depot, then open the app again.",
    none: "This browser lets the app keep nothing. No report can be saved here: call, and write it down. Allow storage for this address, or use another browser.",
  },
  unkeptInUse: "Your answer is in use, but the tablet could not keep it: after a restart it is gone. Answer again; if this stays, tell the depot.",
  unkept: "The tablet could not keep your last answer: the one before it stands. Answer again; if this stays, tell the depot.",
  full: "The tablet is full. Packs were dropped so that the report could be saved; they come again where there is signal. Make room on the tablet.",
  /** @param {number} n */
  emptied: (n) =>
    `This tablet's storage was emptied by the system. ${
      n === 0
        ? "When last seen, it held no unsent report."
        : `${n} unsent ${n === 1 ? "report" : "reports"} may be lost. Tell the depot.`
    } The packs come again where there is signal.`,
  emptiedTold: "Understood",
  updateHeld: "A new version of the app is ready. Another window of the app is in use: close that one first.",
  shellOff:
    "The depot has taken the app's files off this tablet: for now it opens only where there is signal. Keep it open. Reports stay on the tablet and are sent from here.",
  /** @param {number} days */
  lapsed: (days) =>
    `The depot last confirmed this pack ${days} days ago. No advice from it until the tablet has reached the depot.`,
  notInstalled:
    "The app is not installed on this tablet: in the browser the system may empty its storage, reports too. Share, then Add to Home Screen; open it from there.",
  copy: "Copy these words",
  copied: "Copied.",
  notCopied: "Could not copy. Write them down.",
  needsHttpsTitle: "This address needs https.",
  needsHttps:
    "From here the app cannot keep its files, its packs or your reports. Open the depot's address that begins with https. Until then: signals, rule book, local instructions; reports by voice.",
};

/** @type {typeof en} */
export const de = {
  troubleWords: {
    blocked:
      "Der Speicher des Geräts öffnet nicht. Andere Fenster der App schließen; dieses macht dann von selbst weiter. Bis dahin kann hier keine Meldung gespeichert werden: anrufen und aufschreiben.",
    damaged:
      "Der Speicher des Geräts ist nicht lesbar. Nichts wurde gelöscht. Hier kann keine Meldung gespeichert werden: anrufen und aufschreiben. Gerät neu starten; bleibt dies stehen, dem Depot sagen.",
    newer:
      "Eine neuere Fassung der App hat diesen Speicher geschrieben. Nichts wurde gelöscht. Hier kann keine Meldung gespeichert werden: anrufen und aufschreiben. Gerät mit dem Depot verbinden, dann die App neu öffnen.",
    none: "Dieser Browser lässt die App nichts behalten. Hier kann keine Meldung gespeichert werden: anrufen und aufschreiben. Speicher für diese Adresse erlauben oder einen anderen Browser nehmen.",
  },
  unkeptInUse: "Ihre Antwort gilt, doch das Gerät konnte sie nicht behalten: nach einem Neustart ist sie weg. Noch einmal antworten; bleibt dies stehen, dem Depot sagen.",
  unkept: "Das Gerät konnte Ihre letzte Antwort nicht behalten: die vorige gilt. Noch einmal antworten; bleibt dies stehen, dem Depot sagen.",
  full: "Das Gerät ist voll. Pakete wurden fallen gelassen, damit die Meldung gespeichert werden konnte; sie kommen wieder, wo Netz ist. Platz auf dem Gerät schaffen.",
  emptied: (n) =>
    `Der Speicher dieses Geräts wurde vom System geleert. ${
      n === 0
        ? "Zuletzt lag keine ungesendete Meldung darin."
        : `${n} ungesendete ${n === 1 ? "Meldung kann" : "Meldungen können"} verloren sein. Dem Depot sagen.`
    } Die Pakete kommen wieder, wo Netz ist.`,
  emptiedTold: "Verstanden",
  updateHeld: "Eine neue Fassung der App ist bereit. Ein anderes Fenster der App ist in Gebrauch: dieses zuerst schließen.",
  shellOff:
    "Das Depot hat die Dateien der App von diesem Gerät genommen: bis auf weiteres öffnet sie nur, wo Netz ist. Offen lassen. Meldungen bleiben auf dem Gerät und werden von hier gesendet.",
  lapsed: (days) =>
    `Das Depot hat dieses Paket zuletzt vor ${days} Tagen bestätigt. Kein Rat daraus, bis das Gerät das Depot erreicht hat.`,
  notInstalled:
    "Die App ist auf diesem Gerät nicht installiert: im Browser kann das System ihren Speicher leeren, auch Meldungen. Teilen, dann Zum Home-Bildschirm; von dort öffnen.",
  copy: "Diese Worte kopieren",
  copied: "Kopiert.",
  notCopied: "Konnte nicht kopieren. Aufschreiben.",
  needsHttpsTitle: "Diese Adresse braucht https.",
  needsHttps:
    "Von hier kann die App weder ihre Dateien noch Pakete noch Meldungen behalten. Die Adresse des Depots öffnen, die mit https beginnt. Bis dahin: Signale, Regelwerk, örtliche Anweisungen; Meldungen mündlich.",
};
