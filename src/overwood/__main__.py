from overwood.faces.cli.main import main

main()
